"""The part of the sensor that a capture mode records."""

from previz.scene.cameras import Camera, Mode


def recorded_area(camera: Camera, mode: Mode) -> tuple[float, float]:
    """Width and height of the sensor area that ends up in the picture. [m]

    The largest area of the mode's shape that fits the sensor, less the mode's crop.

    >>> one_inch = Camera.model_construct(sensor=(0.0132, 0.0088))
    >>> recorded_area(one_inch, Mode.model_construct(width=1920, height=1080, crop=1.0))
    (0.0132, 0.007425)
    """
    width = min(camera.sensor[0], camera.sensor[1] * mode.width / mode.height) / mode.crop
    return width, width * mode.height / mode.width

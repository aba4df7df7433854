"""How much of the light on it each large surface sends back: ground, backdrop, painted skies. Linear reflectance."""

import numpy as np
from numpy.typing import NDArray

from previz.errors import FileFault, PrevizError
from previz.files import load_image
from previz.layout.remembered import remembered
from previz.physics.colour import srgb_linear
from previz.physics.water import wetted
from previz.scene import Container, Layer, Painting, Road, Scene

Array = NDArray[np.float64]
Colour = tuple[float, float, float]
Stops = tuple[tuple[float, Colour], ...]

#: Linear reflectance at shares of the height from the horizon to the top of the sheet.
SKIES: dict[str, Stops] = {
    "clear": ((0.0, (0.66, 0.72, 0.78)), (0.22, (0.47, 0.60, 0.76)), (0.55, (0.27, 0.43, 0.70)),
              (1.0, (0.15, 0.28, 0.58))),
    "overcast": ((0.0, (0.66, 0.67, 0.68)), (0.30, (0.56, 0.58, 0.60)), (1.0, (0.40, 0.43, 0.47))),
    "dusk": (
        (0.0, (0.84, 0.44, 0.15)), (0.07, (0.76, 0.36, 0.15)), (0.17, (0.55, 0.29, 0.22)), (0.30, (0.31, 0.22, 0.28)),
        (0.50, (0.13, 0.14, 0.28)), (0.75, (0.055, 0.080, 0.20)), (1.0, (0.030, 0.050, 0.145)),
    ),
    "dawn": (
        (0.0, (0.86, 0.70, 0.50)), (0.10, (0.82, 0.62, 0.50)), (0.25, (0.68, 0.55, 0.56)), (0.50, (0.44, 0.46, 0.58)),
        (1.0, (0.22, 0.30, 0.48)),
    ),
    "night": ((0.0, (0.058, 0.060, 0.082)), (0.20, (0.030, 0.036, 0.060)), (0.55, (0.014, 0.019, 0.040)),
              (1.0, (0.008, 0.012, 0.028))),
    "snow": ((0.0, (0.74, 0.76, 0.78)), (0.40, (0.69, 0.71, 0.74)), (1.0, (0.60, 0.63, 0.67))),
}  # fmt: skip

#: The air between far layers, where it is not simply the colour of the sky at the horizon.
_AIR: dict[str, Colour] = {"dusk": (0.43, 0.30, 0.29), "dawn": (0.66, 0.56, 0.52)}

#: The surface's own colour, linear reflectance. Typical, from memory.
SURFACE_COLOURS: dict[str, Colour] = {
    "concrete": (0.300, 0.292, 0.272),
    "asphalt": (0.072, 0.072, 0.074),
    "cobbles": (0.150, 0.143, 0.135),
    "snow": (0.800, 0.820, 0.850),
    "gravel": (0.235, 0.222, 0.200),
    "grass": (0.088, 0.118, 0.040),
    "sand": (0.460, 0.370, 0.240),
    "earth": (0.160, 0.105, 0.062),
    "mud": (0.082, 0.057, 0.037),
    "wood": (0.360, 0.220, 0.115),
    "plain": (0.300, 0.300, 0.300),
}


#: Of a road that is asphalt and says no more: rolled by traffic, and so darker than a yard. Typical, from memory.
_ROAD_ASPHALT: Colour = (0.060, 0.060, 0.063)


def box_colours(container: Container, copy: int = 0) -> tuple[Colour, ...]:
    """Those of the boxes of one of its copies, from the lowest up.

    >>> from previz.scene import Container
    >>> red, white = (0.5, 0.0, 0.0), (0.8, 0.8, 0.8)
    >>> stacked = Container.model_construct(colour=red, colours=(white,), stack=1)
    >>> [box_colours(stacked, copy) == (colour,) for copy, colour in enumerate((red, white, red))]
    [True, True, True]
    """
    paints = (container.colour, *container.colours)
    first = copy * container.stack % len(paints)
    lowest, *rest = (*paints[first:], *paints[:first])
    above = rest or [lowest]
    return (lowest, *(above[k % len(above)] for k in range(container.stack - 1)))


def road_colour(road: Road) -> Colour:
    """The mean reflectance of a road's surface."""
    own = _ROAD_ASPHALT if road.surface == "asphalt" else SURFACE_COLOURS[road.surface]
    return road.colour or own


@remembered
def ground_colour(scene: Scene) -> Colour:
    """The mean reflectance of the ground's surface. Raises FileFault for an image that cannot be read."""
    ground = scene.set.ground
    if ground.image is not None:
        dry = _colour_of_file(scene, "ground", ground.image)
    else:
        dry = ground.colour or SURFACE_COLOURS[ground.surface]
    if not ground.wet:
        return dry
    red, green, blue = (ground.wet * wetted(dry) + (1 - ground.wet) * np.array(dry)).tolist()
    return red, green, blue


def _colour_of_file(scene: Scene, part: str, name: str) -> Colour:
    try:
        return image_colour(load_image(scene.folder / name))
    except PrevizError as error:
        raise FileFault(("set", part, "image"), str(error)) from None


def image_colour(pixels: NDArray[np.uint8]) -> Colour:
    """The mean reflectance of what is printed from an image (h, w, 3 or more)."""
    codes = [np.bincount(pixels[..., channel].ravel(), minlength=256) for channel in range(3)]
    red, green, blue = (float(srgb_linear(np.arange(256) / 255) @ count / count.sum()) for count in codes)
    return red, green, blue


def backdrop_colours(scene: Scene, z: Array) -> Array:
    """About the mean reflectance of the backdrop at heights (m,) above the table [m], clouds left out. (m, 3)

    Raises FileFault for an image that cannot be read.
    """
    backdrop = scene.set.backdrop
    assert backdrop is not None  # asked of a scene that has one
    if backdrop.colour is not None:
        return np.tile(backdrop.colour, (len(z), 1))
    if backdrop.image is not None:
        return np.tile(_colour_of_file(scene, "backdrop", backdrop.image), (len(z), 1))
    painting = backdrop.painting
    assert painting is not None  # a Backdrop has one of colour, image and painting
    stops = SKIES[painting.sky]
    share = (z - painting.horizon) / max(backdrop.height - painting.horizon, 0.05)
    codes = np.sqrt(np.array([colour for _, colour in stops]))
    found = np.stack([np.interp(share, [at for at, _ in stops], codes[:, k]) for k in range(3)], axis=1) ** 2
    found[share < 0] = (np.array(stops[0][1]) + np.array(ground_colour(scene))) / 2
    for layer in painting.layers:
        base = float(np.clip(painting.horizon, 0.0, 0.6 * layer.height))
        under = (z > base) & (z < base + 0.7 * (layer.height - base))
        found[under] = layer_colour(painting, layer)
    return found


def layer_colour(painting: Painting, layer: Layer) -> Colour:
    """What a layer of a painting is painted with: its own colour, under so much of the air's as it has haze."""
    red, green, blue = (1 - layer.haze) * np.array(layer.colour) + layer.haze * np.array(air_colour(painting.sky))
    return float(red), float(green), float(blue)


def air_colour(sky: str) -> Colour:
    """The colour of the air between far layers under a painted sky."""
    return _AIR.get(sky, SKIES[sky][0][1])

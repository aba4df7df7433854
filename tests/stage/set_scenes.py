"""Scenes for the tests of the set: a small table, so that painting it takes little."""

from typing import Any

from previz.scene import FileUnits, Scene

STRAIGHT = {"lane": "3.5 m full size", "lanes": 2, "centre": [[-50, 150], [450, 150]]}


def scene(scale: int = 50, folder: Any = None, **keys: Any) -> Scene:
    """A scene as from a file with `units: mm`; `keys` replace those of `set` and of the scene, by name."""
    of_set = {"table": {"width": 400, "depth": 300}}
    written: dict[str, Any] = {
        "title": "a test set",
        "scale": f"1:{scale}",
        "units": "mm",
        "set": of_set,
        "vehicle": {"body": "lorry", "speed": "0.9 m/s", "path": [[0, 150], [400, 150]]},
        "lights": [{"id": "room", "ambient": "20 lx"}],
        "cameras": {
            "c": {
                "sensor": "1-inch",
                "lens": "8.8-36.8 mm",
                "widest": "f/1.8",
                "nearest": "50 mm",
                "modes": ["1080p60"],
            }
        },
        "shots": [
            {
                "id": "s",
                "camera": "c",
                "focal_length": "20 mm",
                "f_number": 5.6,
                "at": [200, -150, 45],
                "aim": "vehicle",
                "focus": "vehicle",
                "capture": {"rate": "24 fps"},
            }
        ],
    }
    for key, value in keys.items():
        (of_set if key in ("table", "ground", "road", "backdrop") else written)[key] = value
    if "road" in keys and "vehicle" not in keys:
        written["vehicle"] = {"body": "lorry", "speed": "0.9 m/s", "path": "road"}
    made = Scene.model_validate(written, context=FileUnits(0.001, float(scale)))
    return made if folder is None else made.model_copy(update={"folder": folder})

"""What a shot need not say because its camera leaves no choice: the focal length of a prime, the stop of a phone."""

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from pydantic import TypeAdapter, ValidationError

from previz.scene.cameras import Camera, Lens, Widest, Zoom, on_this_sensor
from previz.scene.fields import FileUnits, FNumber


def with_camera(shot: Mapping[str, Any], cameras: Any, file: FileUnits) -> dict[str, Any]:
    """A shot as written, with what only its camera knows put in; as it was where the camera cannot be read.

    cameras: by name, as written or read already.
    """
    name, plain = shot.get("camera"), dict(shot)
    camera = cameras.get(name) if isinstance(cameras, Mapping) and isinstance(name, str) else None
    if not isinstance(camera, Camera | Mapping):
        return plain
    spelled = camera if isinstance(camera, Camera) else Camera.spelled_out(camera, file)
    if isinstance(plain.get("focal_length"), str):
        plain["focal_length"] = on_this_sensor(plain["focal_length"], _sensor(spelled), file)
    lens: Zoom | None = _read("lens", spelled, file)
    if plain.get("focal_length") is None and lens is not None and lens.shortest == lens.longest:
        plain["focal_length"] = f"{float(lens.shortest)!r} m"
    widest, smallest = _read("widest", spelled, file), _read("smallest", spelled, file)
    if plain.get("f_number") is None and widest is not None and widest == smallest:
        plain["f_number"] = widest
    return plain


def _sensor(camera: Camera | Mapping[str, Any]) -> Any:
    if isinstance(camera, Camera):
        return [f"{side!r} m" for side in camera.sensor]
    return camera.get("sensor")


_KINDS = {"lens": Lens, "widest": Widest, "smallest": FNumber}


def _read(key: str, camera: Camera | Mapping[str, Any], file: FileUnits) -> Any:
    """One key of a camera; None where it is at fault or not given."""
    if isinstance(camera, Camera):
        return getattr(camera, key)
    try:
        return _reader(key).validate_python(camera.get(key), context=file)
    except ValidationError:
        return None


@lru_cache(maxsize=8)
def _reader(key: str) -> TypeAdapter[Any]:
    return TypeAdapter(_KINDS[key])

"""Places and focuses of a shot as a scene file holds them, in numbers that can be read off the maker's tape."""

from typing import Any

from previz.scene import Focus, PlaceKey, Scene


def place_written(scene: Scene, place: Any) -> Any:
    """Where a camera stands, in one place or at its keys: `["705 mm", "-160 mm", "52 mm"]`."""
    if isinstance(place[0], PlaceKey):
        return [{"time": f"{key.time:g} s", "at": place_written(scene, key.at)} for key in place]
    return [scene.tape(value) for value in place]


def focus_written(scene: Scene, focus: Any) -> Any:
    """A focus, or its keys: a distance, what it is on, or a place."""
    if not isinstance(focus, Focus):
        return [{"time": f"{key.time:g} s", "at": focus_written(scene, key.at)} for key in focus]
    if focus.distance is not None:
        return scene.tape(focus.distance)
    target = focus.target
    assert target is not None  # Focus: one of the two
    if target.vehicle:
        return target.said_of_vehicle
    return target.piece if target.piece is not None else [scene.tape.exact(value, 3) for value in target.place]


def has_distance(focus: Any) -> bool:
    """Whether any of a focus, or of its keys, is a distance, which changes with where the camera stands."""
    if isinstance(focus, Focus):
        return focus.distance is not None
    return any(key.at.distance is not None for key in focus)

"""What is built for some shots only: another backdrop, vehicle or ramp than that of the common set."""

from collections.abc import Iterator, Sequence
from typing import Any

from previz.layout import (
    backdrop_plane,
    each_driven,
)
from previz.scene import VEHICLE, Scene

#: What a shot may have another of than the common set; other pieces and lamps are in `with_all`.
OF_SOME_SHOTS = ("backdrop", "vehicle", "ramp")

#: Keys that say where each stands, how it goes or from how high it is let go: the same one will do.
_LEAVE = {
    "backdrop": {"side", "distance"},
    "vehicle": {"path", "keep", "offset", "reverse", "speed", "start", "launch"},
    "ramp": {"height", "foot"},
}


def only_then(scene: Scene, then: Sequence[Scene]) -> Iterator[tuple[str, Scene, str]]:
    """Of which of `OF_SOME_SHOTS` there is another one, the first setup that has it, and what lists call it.

    Each different one once, named with all shots that have it, in the order of the scene.

    then: the scenes of the setups. Each vehicle counts, whichever a shot is about.
    """
    order = [shot.id for shot in scene.shots]
    for what in OF_SOME_SHOTS:
        common = [_made(each, what) for each in _of_each_vehicle(scene, what)]
        found: list[tuple[dict[str, Any], Scene, set[str]]] = []
        for each in (led for one in then for led in _of_each_vehicle(one, what)):
            made, shots = _made(each, what), {shot.id for shot in each.shots}
            alike = next((those for known, _, those in found if known == made), None)
            if alike is not None:
                alike |= shots
            elif made is not None and made not in common:
                found.append((made, each, shots))
        for _, each, shots in found:
            yield what, each, f"{called(what, each)} for {', '.join(sorted(shots, key=order.index))}"


def called(what: str, scene: Scene) -> str:
    """One of `OF_SOME_SHOTS` as lists call it: that of a vehicle beside the usual one by that vehicle's name.

    scene: the set as that vehicle has it.
    """
    if what == "backdrop" or scene.subject == VEHICLE:
        return what
    return scene.subject if what == "vehicle" else f"{what} of {scene.subject}"


def _of_each_vehicle(scene: Scene, what: str) -> Sequence[Scene]:
    return (scene,) if what == "backdrop" else each_driven(scene)


def _made(scene: Scene, what: str) -> dict[str, Any] | None:
    """What it is, wherever it stands; None where there is none."""
    launch = scene.vehicle.launch if scene.vehicle is not None else None
    parts: dict[str, Any] = {
        "backdrop": scene.set.backdrop,
        "vehicle": scene.vehicle,
        "ramp": launch.ramp if launch is not None else None,
    }
    part = parts[what]
    if part is None:
        return None
    made = {key: value for key, value in dict(part).items() if key not in _LEAVE[what]}
    plane = backdrop_plane(scene)
    # As wide as its side of the table, unless written: the same keys may be another sheet on another side.
    return {**made, "width": plane.width} if what == "backdrop" and plane is not None else made

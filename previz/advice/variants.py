"""What may be built, lit or looked at otherwise: the scene with a larger backdrop, with more light, with another aim.

Built and lit otherwise only where `may_change` lets them go. The search takes each to its end; of what came of it as
little is kept as does. Looked at otherwise where `may_change` lets the aim go, and where check stops all that can be
made of the aim as it is written.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from previz.advice.choices import bounds
from previz.advice.plans import Row
from previz.layout import backdrop_plane, target_point
from previz.predictions import Change, ShotView, reframed
from previz.scene import Ambient, Bulb, Output, Panel, Range, Scene, Spot, Target, rewritten
from previz.units import FLUX, ILLUMINANCE, Tape, text_of

#: Where only a yes says so: lamps up to twice as bright, half as far, a backdrop up to half as large again, and bare
#: lamps. Common practice, no source.
BRIGHTER, NEARER, LARGER = 2.0, 0.5, 1.5

#: Where only a yes says so, what is aimed at is moved by no more than this share of the picture's width. Common
#: practice, no source. [-]
AIMED = 1 / 3

#: Aims this near are one. [m]
_SAME_AIM = 1e-3

#: What it costs to build or light otherwise, against what else may change; see `search`.
PRICE = 1.0


@dataclass(frozen=True)
class Variant:
    """A scene that is built or lit otherwise.

    Parameters
    ----------
    backdrop, light : float
        How far each is taken from as it is, 0, to the end of what it may be, 1.
    looked : tuple of Change
        Another aim, and what goes with it.
    """

    backdrop: float = 0.0
    light: float = 0.0
    looked: tuple[Change, ...] = ()

    @property
    def price(self) -> float:
        """What it costs, as ways are ranked."""
        return PRICE * ((self.backdrop > 0) + (self.light > 0) + bool(self.looked))

    def less(self, by: float) -> "Variant":
        """The same taken so much less far. [share]"""
        return Variant(self.backdrop * (1 - by), self.light * (1 - by), self.looked)

    def into(self, scene: Scene) -> Scene:
        """The scene with it."""
        return (
            rewritten(scene, {change.key: change.value for change, _ in self.changes(scene)}) if self.price else scene
        )

    def changes(self, scene: Scene) -> list[tuple[Change, Row]]:
        """What it writes, each with a line for people."""
        found = list(_backdrop(scene, self.backdrop)) if self.backdrop else []
        found += list(_lamps(scene, self.light)) if self.light else []
        return found + [(change, _looked_row(change)) for change in self.looked]


def variants_of(scene: Scene) -> tuple[Variant, ...]:
    """As it is, and what may be built or lit otherwise."""
    backdrop, light = bool(Variant(backdrop=1.0).changes(scene)), bool(Variant(light=1.0).changes(scene))
    found = [Variant(), *([Variant(light=1.0)] if light else []), *([Variant(backdrop=1.0)] if backdrop else [])]
    return tuple([*found, Variant(1.0, 1.0)] if backdrop and light else found)


def looked_otherwise(view: ShotView) -> Iterator[Variant]:
    """Other aims from which the vehicle is seen and nothing past the set, as far as `may_change` lets them be had.

    The focal length and the stop that go with them are the search's to find.
    """
    may, found = view.scene.may_change, set[str]()
    for way in () if may.aim is False else reframed(view):
        kept = tuple(each for each in way.changes if not each.key.endswith(("focal_length", "f_number")))
        keys = {each.key.rpartition(".")[2] for each in kept}
        held = ("at" in keys and (may.distance is False or may.height is False)) or (
            "focus" in keys and may.focus is False
        )
        if kept and not held and repr(kept) not in found:
            found.add(repr(kept))
            yield Variant(looked=kept)


def reach_of_aim(view: ShotView) -> float:
    """How far what a shot is aimed at may be from where it is written; 0 where it may not move. [m]

    Of a camera that follows, or whose aim is keyed, that was chosen.
    """
    may, aim = view.scene.may_change.aim, view.shot.aim
    if not may or not isinstance(aim, Target) or aim.vehicle:
        return 0.0
    if may is not True:
        return float(may.most)
    middle = view.cameras[view.middle]
    far = float(np.linalg.norm(middle.position - target_point(view.scene, aim, float(view.times[view.middle]))))
    return AIMED * far * view.area[0] / view.shot.focal_length


def aimed_elsewhere(view: ShotView, right: float, up: float) -> Variant | None:
    """The shot aimed so far to the right and higher, as its camera sees it, at what is over the table. [m]

    None where that is where it is aimed already.
    """
    scene, shot, middle = view.scene, view.shot, view.cameras[view.middle]
    now = target_point(scene, shot.aim, float(view.times[view.middle]))
    there = now + right * middle.world_from_camera[:, 0] + up * middle.world_from_camera[:, 1]
    table = scene.set.table
    there = np.clip(there, np.minimum(now, 0.0), np.maximum(now, [table.width, table.depth, np.inf]))
    if np.linalg.norm(there - now) < _SAME_AIM:
        return None
    key = f"shots[{scene.shots.index(shot)}].aim"
    return Variant(looked=(Change(key, [scene.tape(float(value)) for value in there]),))


def _looked_row(change: Change) -> Row:
    """A line for people; none of what the marks tell anyhow."""
    name = change.key.rpartition(".")[2]
    text = ", ".join(change.value) if isinstance(change.value, list) else str(change.value)
    labels = {"aim": "aim, from the table's front-left corner", "start": "begin, on set"}
    if text == "vehicle":
        labels["aim"] = "aim, all along"
    return Row(labels.get(name, ""), text)


def _towards(now: float, end: float, share: float) -> float:
    """Of the way from what is to an end, by ratio."""
    return float(now * (end / now) ** share) if now > 0 and end > 0 else now + (end - now) * share


def _backdrop(scene: Scene, share: float) -> Iterator[tuple[Change, Row]]:
    plane = backdrop_plane(scene)
    if plane is None:
        return
    sides = {"width": plane.width, "height": plane.height}
    for side, now in sides.items():
        most = bounds(scene, f"backdrop_{side}", now, Range(now, LARGER * now)).most
        if most > now:
            # A centimetre more, so that a tape's rounding takes nothing off.
            text = scene.tape(math.ceil(min(_towards(now, most, share) + 0.005, most) * 100) / 100)
            yield Change(f"set.backdrop.{side}", text), Row(f"backdrop, {side}", text)


def _nearer(scene: Scene, light: Panel | Spot, key: str, share: float) -> Iterator[tuple[Change, Row]]:
    """Towards what it is aimed at."""
    off = [at - aim for at, aim in zip(light.at, light.aim, strict=True)]
    far = math.hypot(*off)
    least = bounds(scene, "lamp_distance", far, Range(NEARER * far, far)).least
    if least < far:
        near = _towards(far, least, share)
        place = [aim + each * near / far for aim, each in zip(light.aim, off, strict=True)]
        row = Row(f"lamp {light.id}, to what it is aimed at", scene.tape(near))
        yield Change(f"{key}.at", [scene.tape(each) for each in place]), row


def _lamps(scene: Scene, share: float) -> Iterator[tuple[Change, Row]]:
    may = scene.may_change
    for number, light in enumerate(scene.lights):
        if isinstance(light, Ambient) or (may.lamps is not None and light.id not in may.lamps):
            continue
        key = f"lights[{number}]"
        if light.output.flux is not None:
            now = float(light.output.flux)
            most = bounds(scene, "lamp_output", now, Range(now, BRIGHTER * now)).most
            if most > now:
                text = text_of(FLUX, float(f"{_towards(now, most, share):.3g}"))
                yield Change(f"{key}.output", text), Row(f"lamp {light.id}, output", text)
        if not isinstance(light, Bulb) and not light.fixed:
            yield from _nearer(scene, light, key, share)
        lost = float(light.diffusion)
        bare = bounds(scene, "lamp_diffusion", lost, Range(0.0, lost)).least
        if bare < lost:
            text = f"{lost + (bare - lost) * share:.2g} stops"
            yield Change(f"{key}.diffusion", text), Row(f"lamp {light.id}, diffusion", text)


def brighter(scene: Scene, times: float) -> list[tuple[str, Change, str]]:
    """Lamps so many times as bright: of each its name, what that writes, and how bright it is then.

    Not those that stay as they are, as a window does, nor lamps of the set; the light of the room where there are no
    others.
    """
    found = []
    rooms = all(isinstance(light, Ambient) or light.fixed or light.practical for light in scene.lights)
    for number, light in enumerate(scene.lights):
        if isinstance(light, Ambient):
            if rooms:
                text = text_of(ILLUMINANCE, float(f"{light.ambient * times:.3g}"))
                found.append((light.id, Change(f"lights[{number}].ambient", text), text))
        elif not (light.fixed or light.practical):
            text = _output_told(light.output, times, scene.tape)
            found.append((light.id, Change(f"lights[{number}].output", text), text))
    return found


def _output_told(output: Output, times: float, tape: Tape) -> str:
    if output.flux is not None:
        return text_of(FLUX, float(f"{output.flux * times:.3g}"))
    assert output.axis_illuminance is not None and output.axis_distance is not None  # one of the two
    lux = text_of(ILLUMINANCE, float(f"{output.axis_illuminance * times:.3g}"))
    distance = tape(output.axis_distance) if tape.column == "in" else f"{output.axis_distance:g} m"
    return f"{lux} at {distance}"

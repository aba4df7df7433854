"""The usual precautions where a plan calls for them. Not a risk assessment: label, local rules and licensed work rule.

Each caution says what in the plan brings it up. Its `source` says where that was read; comments how far it was
seen.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from previz.layout import each_driven, gear_of
from previz.physics.flashes import MOST_FLASHES, Flashes
from previz.scene import BounceCard, Bulb, FlagCard, Panel, Scene, Spot, Vehicle, setups_of, with_all
from previz.units import percent

DEFERRING = "Follow the lamp's label and local rules; leave mains work to someone licensed for it."


@dataclass(frozen=True)
class Caution:
    """One precaution.

    Parameters
    ----------
    id : str
        Stable, for programs.
    because : str
        What in the plan brings it up.
    precaution : str
        What is usually done.
    source : str
        Where that is said, and how far it was seen.
    brief : str
        The same in one line of a terminal, without what brings it up; "" where it is never told so.
    """

    id: str
    because: str
    precaution: str
    source: str
    brief: str = ""


#: A test cylinder for small parts: 1.25 in wide, 2.25 in deep. 16 CFR 1501.4 as quoted. [m]
SMALL_PART = (0.03175, 0.05715)

#: What is made of foam, fibre or grass strewn on glue.
_STREWN = ("conifer", "broadleaf", "bush", "hedge", "conifers", "broadleaves", "bushes", "tufts")

#: Largest lip or ramp that is no raised support. [m]
_RAISED = 0.10


def cautions_for(scene: Scene) -> tuple[Caution, ...]:
    """The precautions that this plan calls for."""
    tests = (_stands, _bulbs, _lamps, _mains, _ramp, _small_parts, _flashes)
    return tuple(caution for test in tests for caution in test(scene))


def cautions_together(*found: tuple[Caution, ...]) -> tuple[Caution, ...]:
    """The precautions of several plans, those of each kind in the words of the first that calls for it."""
    told: list[Caution] = []
    for cautions in found:
        known = {each.id for each in told}
        told += [each for each in cautions if each.id not in known]
    return tuple(told)


def cautions_of_all(scene: Scene, of: Callable[[Scene], tuple[Caution, ...]] = cautions_for) -> tuple[Caution, ...]:
    """The precautions that the plan calls for with all that its shots add and change."""
    return cautions_together(of(with_all(scene)), *(of(setup.scene) for setup in setups_of(scene)))


def _driven(scene: Scene) -> list[Vehicle]:
    return [each.vehicle for each in each_driven(scene) if each.vehicle is not None]


def _stands(scene: Scene) -> list[Caution]:
    # What is part of the room, like a window or a ceiling lamp, has no stand that could tip.
    lamps = [
        light.id
        for light in scene.lights
        if isinstance(light, Panel | Spot | Bulb) and not light.fixed and not _tiny(light)
    ]
    cards = _held_cards(scene)
    if not lamps and not cards:
        return []
    what = " and ".join(word for word, those in (("lamps", lamps), ("cards", cards)) if those)
    return [
        Caution(
            "lamp.stand",
            f"{what} that stand or hang ({', '.join((*lamps, *cards))})",
            "Weigh stands down so that none tips, tie what hangs twice, keep card, paper and curtains clear of hot "
            f"lamps, and let them cool before you touch them. {DEFERRING}",
            "common practice, no source",
            "stands: weigh them down, tie what hangs; keep card clear of hot lamps",
        )
    ]


def _tiny(light: object) -> bool:
    return isinstance(light, Bulb) and light.tiny


def _held_cards(scene: Scene) -> list[str]:
    """Bounce cards and flags that something holds up; one on its own edge is no more than a piece."""
    if not any(isinstance(piece, BounceCard | FlagCard) for piece in scene.dressing):
        return []  # most scenes, which then need no look at what stands where
    held = {each.entry: None for each in gear_of(scene) if each.kind != "lamp" and each.held not in ("edge", "nothing")}
    return [scene.dressing[number].id for number in held]


def _bulbs(scene: Scene) -> list[Caution]:
    bare = [light.id for light in scene.lights if isinstance(light, Bulb) and not _tiny(light)]
    if not bare:
        return []
    return [
        Caution(
            "lamp.bulb",
            f"bare bulbs ({', '.join(bare)})",
            "Use a holder with a plug, and a bulb of no more watts than the holder says; LED ones stay cooler. Keep "
            f"card, paper, hair and hands clear of the glass, and pull the plug before you change it. {DEFERRING}",
            "common practice, no source",
            "bare bulbs: watts as the holder says; nothing near the hot glass",
        )
    ]


def making_cautions(scene: Scene) -> tuple[Caution, ...]:
    """The precautions that printing, cutting and building this plan call for."""
    found = [
        Caution(
            "cut.blade",
            "card and paper cut by hand",
            "Cut on a mat along a metal edge with a sharp blade, keep fingers out of its way, and cover it when you "
            "lay it down.",
            "common practice, no source",
        )
    ]
    if any(each.launch is not None for each in _driven(scene)):
        found.append(
            Caution(
                "cut.dust",
                "board sawn and sanded for the ramp",
                "Saw and sand where there is fresh air, wear a mask sold for dust, and hold the board fast.",
                "a NIOSH health hazard evaluation of an art department (nioshtic-2 00205619): wood dust far too high, "
                "ventilation advised; the rest common practice",
            )
        )
    if any(getattr(piece, "piece", getattr(piece, "scatter", None)) in _STREWN for piece in scene.dressing):
        found.append(
            Caution(
                "foliage.dust",
                "trees, hedges, bushes or grass of foam, fibre and glue",
                "Grind, strew and spray where there is fresh air and no flame, wear a mask sold for dust, charge grass "
                "fibres as the maker of the charger says, and follow the glue's label.",
                "common practice, no source",
            )
        )
    return (*found, *_ground(scene), *_small_parts(scene), *_ramp(scene))


#: Surfaces that are strewn grit, sand or filler.
_LOOSE = ("gravel", "sand", "earth", "mud")


def _ground(scene: Scene) -> list[Caution]:
    ground, road = scene.set.ground, scene.set.road
    loose = [each.surface for each in (ground, road) if each is not None and each.surface in _LOOSE]
    found = []
    if loose:
        found.append(
            Caution(
                "ground.dust",
                f"loose ground ({', '.join(dict.fromkeys(loose))})",
                "Sieve, strew and sand grit, sand and filler where there is fresh air, wear a mask sold for fine dust, "
                "and wipe up damp instead of sweeping; sand and filler may hold fine silica. Follow the maker's label.",
                "common practice, no source",
            )
        )
    if (ground.puddles is not None and ground.puddles.count) or ground.wet > 0 or "mud" in loose:
        found.append(
            Caution(
                "ground.varnish",
                "gloss varnish, gel or resin for water and mud",
                "Use it where there is fresh air and no flame, keep it off the skin, wear what its label asks for, and "
                "let it cure before lamps come near. Follow the maker's label and safety sheet.",
                "common practice, no source",
            )
        )
    return found


def _lamps(scene: Scene) -> list[Caution]:
    covered = [
        light.id
        for light in scene.lights
        if isinstance(light, Panel | Spot | Bulb)
        and (light.diffusion > 0 or getattr(light, "diffuser", None) is not None)
    ]
    if not covered:
        return []
    return [
        Caution(
            "lamp.diffusion",
            f"diffusion on {', '.join(covered)}",
            "Use only diffusion sold for lighting, clear of the lamp; never paper or fabric, never cover a lamp; leave "
            f"room for air, and let hot lamps cool before touching them. {DEFERRING}",
            # The first two were seen, the last as quoted.
            "Occupational Health & Safety, 1 Apr 2013 (a 500 W work light above 300 C), and a fire service page; "
            "mediacollege.com lighting safety",
            "diffusion: only what is sold for lamps, clear of them; never paper",
        )
    ]


def _mains(scene: Scene) -> list[Caution]:
    fed = [light.id for light in scene.lights if isinstance(light, Panel | Spot | Bulb) and light.mains]
    if not fed:
        return []
    return [
        Caution(
            "lamp.mains",
            f"mains leads to {', '.join(fed)}",
            "Keep leads off the ground people walk on or tape them down, never under rugs, never coiled, never one "
            f"extension into another; stop if one turns hot or soft. {DEFERRING}",
            "US CPSC recommendations",  # as quoted in stored copies
            "mains leads: off walkways, never coiled or chained; stop if hot",
        )
    ]


def _ramp(scene: Scene) -> list[Caution]:
    launches = [each.launch for each in _driven(scene) if each.launch is not None]
    launch = max(launches, key=lambda each: float(each.ramp.height), default=None)
    if launch is None or launch.ramp.height < _RAISED:
        return []
    return [
        Caution(
            "ramp.raised",
            f"a ramp raised by {scene.tape(launch.ramp.height)}",
            "Fix its supports so that they cannot slide or tip, weight kept low, and keep hands from under it; put "
            "something soft where the vehicle ends.",
            "common practice, no source",
            "ramp: supports that cannot slide; hands from under it; a soft end",
        )
    ]


def _small_parts(scene: Scene) -> list[Caution]:
    length = min((each.vehicle_length for each in each_driven(scene)), default=math.inf)
    loose = bool(scene.dressing) or (length <= SMALL_PART[1] and length / 3 <= SMALL_PART[0])
    if not loose:
        return []
    # An inch and a quarter by two and a quarter, which another tape tells to the hundredth of a millimetre.
    sides = [scene.tape(side) if not scene.tape.metric else f"{side * 1000:.2f} mm" for side in SMALL_PART]
    return [
        Caution(
            "parts.small",
            "small loose parts on the set",
            f"Keep out of reach of children under three whatever fits a cylinder of {' by '.join(sides)}.",
            "16 CFR 1501.4",  # as quoted; its figure was not seen
            "small parts: keep them out of reach of children under three",
        )
    ]


def _flashes(scene: Scene) -> list[Caution]:
    pulsing = [light.id for light in scene.lights if light.mains]
    if not pulsing:
        return []
    return [
        Caution(
            "clip.flashes",
            f"lamps that pulse ({', '.join(pulsing)}) may flash in the clip when slowed down",
            "Show no more than three flashes in any one second of the finished clip (a flash: brightness changed by "
            "a tenth and back, the darker under 0.8, over a quarter of the view); warn viewers otherwise.",
            "WCAG 2.2, three flashes or below threshold",  # seen
            "pulsing lamps: at most three flashes in any second, else warn viewers",
        )
    ]


def flashes_told(found: Flashes, elsewhere: str = "") -> str:
    """What a clip that flashes too much does, when, what it comes from and what helps, after a word for the clip.

    elsewhere: where it comes from, if that is known otherwise, with what helps there.

    >>> flashes_told(Flashes(4.0, 0.0, 0.35, (0.96, 1.96), passing=True))[:64]
    'flashes 4 times in one second, from 0.96 to 1.96 s, over up to 3'
    """
    if elsewhere:
        whence, helps = elsewhere, "Steady the light, play it back slower"
    elif found.passing:
        whence = ", place by place, as light and dark parts do that pass one after the other, or bands by mains lamps"
        helps = (
            "Where check tells of no bands, show what passes smaller or from elsewhere, let its parts contrast less, "
            "drive or play it slower"
        )
    else:
        whence, helps = "", "Steady the light, play it back slower"
    return (
        f"flashes {found.worst:g} times in one second, from {found.when[0]:.3g} to {found.when[1]:.3g} s, over up to "
        f"{percent(found.share)} of a 10 degree field of view{whence}; more than {MOST_FLASHES} can harm people with "
        f"photosensitive epilepsy (WCAG 2.2). {helps}, or warn viewers"
    )

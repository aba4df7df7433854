"""What an evening of filming takes, as written: minutes for a take and for each kind of move. All of it is assumed."""

from typing import Any

from pydantic import field_validator

from previz import units
from previz.scene.fields import Part, Share, quantity, told, whole

Spell: Any = quantity(units.TIME, at_least=0, at_most=3600)
GoodTakes: Any = whole(1, 20)


class Evening(Part):
    """How long things take on the evening; the order of setups and the estimate of the time go by it.

    All defaults are assumptions of ours: put a clock beside the table once, and write what it says.
    """

    take: Spell = told("one take, and all of it put back for the next", 90.0, like="2 min")
    good_takes: GoodTakes = told("how many good ones are wanted of a shot", 1)
    spoiled: Share = told("takes lost to all but the speed: a swerve, a hand in the picture", 0.25, like="25 %")
    sure: Share = told("how sure the estimate is to be", 0.9, like="90 %")
    look: Spell = told("looking at the picture, after each change", 120.0, like="2 min")
    dress: Spell = told("a piece moved, taken away or added", 60.0, like="1 min")
    scatter: Spell = told("scattered things swept up, or strewn", 180.0, like="3 min")
    lamp: Spell = told("a lamp moved, taken away or added", 180.0, like="3 min")
    lamp_setting: Spell = told(
        "a lamp switched on or off, or its output, colour or diffusion set anew", 60.0, like="1 min"
    )
    camera: Spell = told("a camera put up, or moved, and levelled", 300.0, like="5 min")
    aim: Spell = told("the camera aimed anew where it stands", 60.0, like="1 min")
    lens: Spell = told("a zoom set anew, or a lens changed", 60.0, like="1 min")
    settings: Spell = told("focus, stop, shutter or rate set anew", 60.0, like="1 min")
    backdrop: Spell = told("the backdrop turned, moved or changed", 300.0, like="5 min")
    ramp: Spell = told("the ramp put elsewhere", 240.0, like="4 min")
    release: Spell = told("another release height, or another speed", 60.0, like="1 min")
    vehicle: Spell = told("another vehicle, or another way for it", 60.0, like="1 min")
    ground: Spell = told("the ground or the road laid anew", 900.0, like="15 min")

    @field_validator("sure")
    @classmethod
    def _of_something(cls, sure: float) -> float:
        if not 0.5 <= sure <= 0.99:
            raise ValueError(
                f"{sure:.4g} is out of range; it must be 50 % to 99 %: less is a guess, and nobody can be surer"
            )
        return sure

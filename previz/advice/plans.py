"""What advice is: a few plans, what each takes and gives, and what was given up. Data only; the CLI prints it."""

from dataclasses import dataclass

from previz.predictions import Change, Finding
from previz.scene import Scene, Shot


@dataclass(frozen=True)
class Row:
    """One line for people: what, and how much in the units of the file."""

    label: str
    value: str


@dataclass(frozen=True)
class Met:
    """One want, and how a plan answers it.

    Parameters
    ----------
    want : str
        Its key in the scene file, with its number: `wants[2]`; of a want that is not written, its kind.
    words : str
        What is wanted, for people.
    quantity : str
        What was measured, by its name in the glossary of predictions.
    value, limit : float
        Both in `unit`; nan where the plan has no such figure. Of a want with two ends the limit is the nearer.
    unit : str
        SI.
    shown : str
        The value in the unit that people read it in.
    hard : bool
        Whether a plan that misses it is no plan.
    limit_shown : str
        The limit, `at most 4.5 cm`, in the unit that the value is shown in; "" where people read it in none.
    """

    want: str
    words: str
    quantity: str
    value: float
    limit: float
    unit: str
    shown: str
    hard: bool
    limit_shown: str = ""


@dataclass(frozen=True)
class Wanted:
    """What is wanted of a shot as it is written.

    Parameters
    ----------
    shot : str
        Its id.
    meets, misses : tuple of Met
        The most important first.
    stops : int
        What `check` stops of it.
    noise : str
        The ISO at which noise shows in it, for people; "" where none does.
    """

    shot: str
    meets: tuple[Met, ...]
    misses: tuple[Met, ...]
    stops: int = 0
    noise: str = ""


@dataclass(frozen=True)
class Bind:
    """A limit that holds a plan back.

    Parameters
    ----------
    limit : str
        What binds, in words that begin a sentence: `the table's front edge`.
    buys : str
        What a little more of it would buy, with how much more: `12 cm more table: the vehicle fills 41 %, not 36 %`.
    """

    limit: str
    buys: str


@dataclass(frozen=True)
class Plan:
    """One way to make the shot, applied and checked.

    Parameters
    ----------
    scene : Scene
        With the changes applied, as `previz.scene.rewritten` made it.
    shot : Shot
        That scene's.
    changes : tuple of Change
        What differs from the scene as written; `rewritten(scene, {c.key: c.value for c in changes})`.
    settings : tuple of Row
        To dial in.
    marks : tuple of Row
        To measure with a tape.
    meets, misses : tuple of Met
        The wants, in the maker's order.
    findings : tuple of Finding
        Of the scene and this shot, those that are not fine, worst first.
    binds : tuple of Bind
        What holds it back.
    other_height : bool
        Whether the lens stands higher or lower than as written, as it was let.
    behind : str
        Why the plan before it is the better one; "" of the first, and after the shot as it is written.
    """

    scene: Scene
    shot: Shot
    changes: tuple[Change, ...]
    settings: tuple[Row, ...]
    marks: tuple[Row, ...]
    meets: tuple[Met, ...]
    misses: tuple[Met, ...]
    findings: tuple[Finding, ...]
    binds: tuple[Bind, ...]
    other_height: bool = False
    behind: str = ""


@dataclass(frozen=True)
class Relaxed:
    """One hard want that no plan meets, and how little it has to give way.

    Parameters
    ----------
    want, words
        As of `Met`.
    asked, given : float
        Its limit as wanted, and as the best plan answers it. [unit]
    unit : str
        SI.
    asked_shown, given_shown : str
        The same in the unit that people read them in.
    """

    want: str
    words: str
    asked: float
    given: float
    unit: str
    asked_shown: str
    given_shown: str


@dataclass(frozen=True)
class Relaxation:
    """The smallest that does.

    Parameters
    ----------
    wants : tuple of Relaxed
        The hard wants that give way.
    stops : tuple of Finding
        What check stops even in the best there is, by as little as can be; then no plan is one to go on with.
    """

    wants: tuple[Relaxed, ...]
    stops: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Lost:
    """A way to make the shot that is no plan here, and why: the next best."""

    settings: tuple[Row, ...]
    why: str


@dataclass(frozen=True)
class Advice:
    """The best that can be done.

    Parameters
    ----------
    plans : tuple of Plan
        The best first; where none is better than the shot as it is written, that comes first. Empty where check stops
        all that can be made of it.
    relaxed : Relaxation or None
        What had to give way so that there is a plan; None where every hard want is met.
    lost : tuple of Lost
        The next best, the nearest to a plan first.
    nearest : Plan or None
        Where check stops all that can be made of the shot, what comes nearest to a plan; it is none.
    as_written : Wanted or None
        How the shot as it is written does; None where what may change does not let it stay so.
    """

    plans: tuple[Plan, ...]
    relaxed: Relaxation | None
    lost: tuple[Lost, ...]
    nearest: Plan | None = None
    as_written: Wanted | None = None

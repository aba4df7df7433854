"""The rule for the number of views, fitted to and held against what `bench.py --differences` printed.

    python tests/benchmarks/views_fitted.py LOG [LOG ...]

prints the two fits that `frames/views/plan.py` has its constants from, then how many of the pictures keep to what is
aimed at with the views that the rule chooses now: their errors are read off between the numbers of views that were
measured, on logarithmic scales. Of pictures whose log has the chosen number alone, that one's error counts.
"""

import json
import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from previz.frames.views.plan import QUALITIES, Differing, views_for

MEAN, HUNDREDTH = QUALITIES["usual"], QUALITIES["usual"] * 16 / 3


def rows_of(paths: list[str]) -> list[dict]:
    """Every row of the logs, one of each number of views of a case: that which was chosen where there is one."""
    rows = [json.loads(line) for path in paths for line in Path(path).read_text().splitlines() if line.startswith("{")]
    return list({(row["case"], row["views"]): row for row in sorted(rows, key=lambda row: row["chosen"])}.values())


def fitted(rows: list[dict], error: str, by: list[str]) -> tuple[NDArray[np.float64], float]:
    """Factor and exponents of an error by the logarithms of what it goes by, and how many lie within a quarter."""
    known = np.array([[row[name] if name != "streak" else 1 + row[name] for name in by] for row in rows])
    given = np.column_stack([np.ones(len(rows)), np.log(known)])
    wanted = np.log([row[error] for row in rows])
    found, *_ = np.linalg.lstsq(given, wanted, rcond=None)
    within = np.abs(given @ found - wanted) < np.log(1.25)
    return np.array([np.exp(found[0]), *found[1:]]), float(within.mean())


def error_at(rows: list[dict], error: str, count: int) -> float:
    """Of one case, at a number of views that need not be among those measured."""
    order = sorted(rows, key=lambda row: row["views"])
    views, errors = (np.log([row[name] for row in order]) for name in ("views", error))
    return float(np.exp(np.interp(np.log(count), views, errors)))


def main() -> None:
    """Print both."""
    rows = rows_of(sys.argv[1:])
    for error, by in (("flip", ["views", "all", "streak"]), ("flip99", ["views", "all_99"])):
        found, within = fitted(rows, error, by)
        told = " ".join(f"{name}^{power:.3f}" for name, power in zip(by, found[1:], strict=True))
        print(f"{error} = {found[0]:.3f} {told}; {within:.0%} of {len(rows)} within a quarter")
    chosen = [row for row in rows if row["chosen"]]
    then = [sum(row[error] <= most for row in chosen) for error, most in (("flip", MEAN), ("flip99", HUNDREDTH))]
    print(f"as chosen when that was measured: {then[0]} keep {MEAN}, {then[1]} keep {HUNDREDTH:.2f} of {len(chosen)}")
    cases: dict[str, list[dict]] = {}
    for row in rows:
        cases.setdefault(row["case"], []).append(row)
    kinds: dict[str, list[tuple[int, float, float]]] = {}
    for name, some in cases.items():
        known = some[0]
        count = views_for("usual", Differing(known["all"], known["all_99"]), known["streak"])
        found_at = count, error_at(some, "flip", count), error_at(some, "flip99", count)
        kinds.setdefault(", ".join(name.split(", ")[1:]), []).append(found_at)
    print("| camera, motion | pictures | views | FLIP | keep it | its 99th percentile | keep it |")
    for name, each in [*sorted(kinds.items()), ("all", [one for some in kinds.values() for one in some])]:
        views, means, worst = np.array(each).T
        print(
            f"| {name} | {len(each)} | {views.min():.0f} to {views.max():.0f}, {views.mean():.0f} | "
            f"{means.mean():.4f}, {means.max():.4f} | {(means <= MEAN).sum()} | "
            f"{worst.mean():.3f}, {worst.max():.3f} | {(worst <= HUNDREDTH).sum()} |"
        )


if __name__ == "__main__":
    main()

"""Speed against error: seconds a frame, PSNR and FLIP for the demo scenes, and Mitsuba 3 in the same run.

    python tests/benchmarks/bench.py                       every case (more than an hour on two cores)
    python tests/benchmarks/bench.py --only quay_lorry,large,moving,panning
    python tests/benchmarks/bench.py --mitsuba --only quay_lorry,large,moving,panning

(denoised too where `pyoidn` can be imported)

Errors are against the mean of two plain references of `--reference` views each (a power of two), whose views are two
scrambled Sobol' sequences of scipy's over pupil, shutter and pixel: they share nothing with each other, nor with the
tool's own pattern. `own` is half of FLIP between the two, what the reference itself is off by. FLIP is Nvidia's
`flip-evaluator` on sRGB codes, a mean over the picture, and its 99th percentile; PSNR is of the same codes.

    python tests/benchmarks/bench.py --clip 120 --workers 2 --only quay_lorry,one-inch,moving,panning

draws so many frames of a case instead, the set built and its light baked before: seconds to the first frame, then
frames a second, and CPU seconds a frame of all processes (where `/proc` tells).
`--draft` draws them as a draft, and single frames too, but through as many views as `--views` says.

With `--finer` each case is drawn once more, every triangle of the set cut in four.

`--sets 10 --first-set 100` films ten sets from seeds instead of the demos, named set-100 and so on.

With `--differences` nothing is timed: of each case it tells what the number of views may be chosen by, then FLIP of
each number in `--views`. What `frames/views/plan.py` goes by was fitted to that.

Times are the least of three frames, after one that compiles the shaders; CPU seconds count all threads of the process
and tell more than wall seconds where the machine is shared. `locked` cases also say what a frame costs that follows
another (only what moves is drawn), and its part of a whole one.
"""

import argparse
import datetime
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import flip_evaluator
import numpy as np
from cases import SENSORS, STREAKS, Case, film
from numpy.typing import NDArray
from scipy.stats.qmc import Sobol

from previz.frames import Look, gl_description, render_frames
from previz.frames.moving import moving_of
from previz.frames.render import _prepared
from previz.frames.studio import Prepared, Studio
from previz.frames.views.pattern import Views, on_rim
from previz.frames.views.plan import difference
from previz.physics.colour import srgb_encoded
from previz.stage import LitMesh, build_stage
from previz.stage.shapes.halving import halved
from previz.takes import DRAFT_VIEWS

Picture = NDArray[np.float32]

SCENES = ("quay_lorry", "night_van", "snow_bus")


def flip(reference: Picture, test: Picture) -> tuple[float, float]:
    """FLIP of two linear pictures as they would be shown: its mean, and what a hundredth of the pixels exceed."""
    shown = srgb_encoded(reference), srgb_encoded(test)
    errors, mean, _ = flip_evaluator.evaluate(*shown, "LDR", applyMagma=False)
    return float(mean), float(np.percentile(errors, 99))


def psnr(reference: Picture, test: Picture) -> float:
    """Of sRGB codes. [dB]"""
    error = srgb_encoded(reference).astype(np.float64) - srgb_encoded(test)
    return float(-10 * np.log10(np.mean(error**2)))


@dataclass(frozen=True)
class Cost:
    """Of one frame. [s]"""

    wall: float
    cpu: float


def timed(draw: Callable[[], Any], times: int = 3) -> tuple[Any, Cost]:
    """What is drawn, and the least it cost."""
    costs = []
    for _ in range(times):
        wall, cpu = time.perf_counter(), time.process_time()
        drawn = draw()
        costs.append((time.perf_counter() - wall, time.process_time() - cpu))
    return drawn, Cost(*(min(column) for column in zip(*costs, strict=True)))


def prepared(case: Case, size: tuple[int, int], stages: dict[str, Any]) -> Prepared:
    """A case made ready, its scene built once for all cases."""
    scene = film(case)
    if case.scene not in stages:
        stages[case.scene] = build_stage(scene)
    shot = scene.shots[0]
    middle = moving_of(scene, shot).times.count // 2
    look = Look(size=size, noise=False)
    return _prepared(scene, stages[case.scene], shot, look, range(middle, middle + 2))


def finer(ready: Prepared) -> Prepared:
    """Every triangle of the set, but not of the vehicle, cut in four: the same picture."""

    def cut(lit: LitMesh) -> LitMesh:
        every = np.ones(lit.mesh.faces.shape, bool)
        light = halved(replace(lit.mesh, colours=lit.irradiance), every).colours
        return LitMesh(halved(lit.mesh, every), light.astype(np.float32))

    unlit, lighting = ready.setup.unlit, ready.lighting
    lit = [cut(LitMesh(mesh, light)) for mesh, light in zip(unlit.still, lighting.on_set.still, strict=True)]
    setup = replace(ready.setup, unlit=replace(unlit, still=tuple(each.mesh for each in lit)))
    on_set = replace(lighting.on_set, still=tuple(each.irradiance for each in lit))
    return Prepared(setup, replace(lighting, on_set=on_set))


def studio_of(ready: Prepared, **look: Any) -> Studio:
    """Made ready and lit."""
    studio = Studio(replace(ready.setup, look=replace(ready.setup.look, **look)))
    studio.light(ready.lighting)
    return studio


def triangles(ready: Prepared) -> int:
    """Of the set, without its ground."""
    return sum(len(mesh.faces) for mesh in ready.setup.unlit.still)


def references(ready: Prepared, count: int, number: int) -> tuple[Picture, float]:
    """The mean of two plain pictures through views that share nothing, and its own FLIP error."""
    studio = studio_of(ready, filtered=False, views=8)
    pictures = [studio.through(scattered(count, seed, studio.blades), number) for seed in (1, 2)]
    studio.close()
    return np.mean(pictures, axis=0, dtype=np.float32), flip(*pictures)[0] / 2


def scattered(count: int, seed: int, blades: int | None) -> Views:
    """Views of a scrambled Sobol' sequence."""
    place, turn, moment, detail, *jitter = Sobol(6, seed=seed).random(count).T
    pupil = np.sqrt(place)[:, None] * on_rim(2 * np.pi * turn, blades)
    return Views(pupil, moment, np.stack(jitter, axis=1) - 0.5, detail - 0.5)


def measured(
    ready: Prepared, reference: Picture, number: int, counts: list[int | None], plain: list[int]
) -> list[dict]:
    """A row for each way of drawing the frame."""
    rows = []
    ways = [(count, True) for count in counts] + [(count, False) for count in plain]
    for count, filtered in ways:
        studio = studio_of(ready, views=count, filtered=filtered)
        studio.frame(number)

        def anew(studio: Studio = studio) -> Picture:
            studio.forget()
            return studio.frame(number).linear

        picture, cost = timed(anew)
        mean, worst = flip(reference, picture)
        row = {
            "form": "filtered" if filtered else "plain", "views": studio.frame(number).facts.views,
            "chosen": count is None, "wall": cost.wall, "cpu": cost.cpu,
            "psnr": psnr(reference, picture), "flip": mean, "flip99": worst,
        }  # fmt: skip
        turn = iter([number + 1, number] * 3)
        _, after = timed(lambda turn=turn, studio=studio: studio.frame(next(turn)))
        row |= {"next_wall": after.wall, "next_cpu": after.cpu}
        rows.append(row)
        studio.close()
    return rows


def filmed(case: Case, look: Look, stages: dict[str, Any], count: int, workers: int) -> str:
    """How fast a clip is drawn."""
    scene = film(case)
    if case.scene not in stages:
        stages[case.scene] = build_stage(scene, "draft" if look.views else "full")
    shot = scene.shots[0]
    numbers = range(min(count, moving_of(scene, shot).times.count))
    drawn = render_frames(scene, stages[case.scene], shot, replace(look, frames=numbers), workers)
    began = time.perf_counter()
    views_count = next(drawn).facts.views
    first, spent = time.perf_counter(), cpu_of_all()
    for _ in drawn:
        ended, last = time.perf_counter(), cpu_of_all()
    return (
        f"{case.name}: {len(numbers)} frames of {views_count} views by {workers} workers in {ended - began:.1f} s; "
        f"the first after {first - began:.1f} s, then {(len(numbers) - 1) / (ended - first):.1f} a second, "
        f"{1000 * (last - spent) / (len(numbers) - 1):.0f} CPU ms each"
    )


def cpu_of_all() -> float:
    """What this process and those that it started have used so far. [s]"""
    used = time.process_time()
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:  # it has ended
            continue
        if int(fields[1]) == os.getpid():
            used += (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    return used


# --- what views are chosen by ---


def differing(ready: Prepared, number: int) -> dict[str, float]:
    """How far three single views of a frame differ: in all, by their place on the pupil, by their moment, by jitter.

    Of each the mean of the standard deviation of sRGB codes to a power (`plan.difference`), of itself, and what a
    hundredth of the pixels exceed. Then what a survey of the shot found. [px]
    """
    studio = studio_of(ready, filtered=False, views=8)
    tried = studio._evened(3)
    alone = {
        "all": tried,
        "pupil": replace(tried, moment=np.full(3, 0.5)),
        "moment": replace(tried, pupil=np.zeros((3, 2))),
        "jitter": replace(tried, moment=np.full(3, 0.5), pupil=np.zeros((3, 2))),
    }
    found = {}
    for name, views in alone.items():
        looks = [studio._picture(views.only(look), studio._light, number) for look in range(3)]
        spread = np.stack([srgb_encoded(look[::2, ::2]) for look in looks]).std(axis=0, ddof=1).mean(axis=2)
        found |= {
            name: difference(looks).mean, f"{name}_mean": float(spread.mean()),
            f"{name}_99": float(np.percentile(spread, 99)), f"{name}_98": float(np.percentile(spread, 98)),
        }  # fmt: skip
    found |= asdict(studio._blurs)
    studio.close()
    return found


def chosen_by(ready: Prepared, reference: Picture, number: int, counts: list[int | None]) -> list[dict]:
    """A row for each number of views, with all that it might have been chosen by."""
    known, rows = differing(ready, number), []
    for count in counts:
        studio = studio_of(ready, views=count)
        frame = studio.frame(number)
        studio.close()
        mean, worst = flip(reference, frame.linear)
        row = {"chosen": count is None, "views": frame.facts.views, "flip": mean, "flip99": worst}
        rows.append(row | {name: round(value, 5) for name, value in known.items()})
    return rows


# --- Mitsuba ---


def llvm_library() -> str | None:
    """An LLVM that drjit gets on with: not 15, whose code generator lacks fmaximum."""
    for place in ("/usr/lib/x86_64-linux-gnu/libLLVM-19.so", "/usr/lib/x86_64-linux-gnu/libLLVM.so.19.1"):
        if Path(place).exists():
            return place
    return os.environ.get("DRJIT_LIBLLVM_PATH")


def in_mitsuba(ready: Prepared, number: int, samples: list[int], most: int) -> list[dict]:
    """Mitsuba's thin lens on the same triangles with the same radiance, at rest mid-shutter; against its own best."""
    from mitsuba_case import shapes_of

    with tempfile.TemporaryDirectory(prefix="previz-bench-") as folder:
        shapes = Path(folder, "shapes.npz")
        np.savez(shapes, **shapes_of(ready, number))
        library = llvm_library()
        environment = os.environ | ({"DRJIT_LIBLLVM_PATH": library} if library else {})
        variant = "llvm_ad_rgb" if library else "scalar_rgb"
        program = [sys.executable, str(Path(__file__).with_name("mitsuba_case.py")), variant, str(shapes), folder]
        asked = [str(count) for count in (*samples, most, most)]
        ran = subprocess.run([*program, *asked], env=environment, capture_output=True, text=True)
        if ran.returncode or "[{" not in ran.stdout:
            raise SystemExit(f"Mitsuba failed:\n{ran.stdout[-1000:]}\n{ran.stderr[-2000:]}")
        told = json.loads(ran.stdout[ran.stdout.index("[{") :].splitlines()[0])
        drawn = [np.load(Path(folder, f"{place}.npy")) for place in range(len(asked))]
        paths = [Path(folder, f"{place}-denoised.npy") for place in range(len(samples))]
        denoised = [np.load(path) for path in paths if path.exists()]
    best, own = (drawn[-1] + drawn[-2]) / 2, flip(drawn[-1], drawn[-2])[0] / 2
    print(f"  Mitsuba {variant}: its best is two of {most} samples, own FLIP {own:.4f}", flush=True)
    rows = []
    for count, picture, cost in zip(samples, drawn, told, strict=False):
        rows.append(_row_of(f"Mitsuba {variant}", count, best, picture, cost["wall"], cost["cpu"]))
    for count, picture, cost in zip(samples, denoised, told, strict=False):
        wall, cpu = cost["wall"] + cost["more_wall"], cost["cpu"] + cost["more_cpu"]
        rows.append(_row_of("the same, denoised", count, best, picture, wall, cpu))
    return rows


def _row_of(form: str, count: int, best: Picture, picture: Picture, wall: float, cpu: float) -> dict:
    mean, worst = flip(best, picture)
    return {
        "form": form, "views": count, "chosen": False, "psnr": psnr(best, picture),
        "flip": mean, "flip99": worst, "wall": wall, "cpu": cpu,
    }  # fmt: skip


# --- the table ---


def told(row: dict) -> str:
    """One line of the table."""
    after = f"{row['next_wall']:7.2f} {row['next_cpu']:7.2f}" if "next_wall" in row else f"{'':15}"
    name = f"{row['form']} {row['views']}{' (chosen)' if row['chosen'] else ''}"
    errors = f"{row['psnr']:6.1f} {row['flip']:7.4f} {row['flip99']:6.3f}"
    return f"  {name:28} {row['wall']:7.2f} {row['cpu']:7.2f} {after} {errors}"


def range_of_sets(first: int, count: int) -> list[str]:
    """Names of sets from so many seeds."""
    return [f"set-{seed}" for seed in range(first, first + count)]


def main() -> None:
    """Run what is asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--size", default="1280x720")
    parser.add_argument("--only", default="", help="words that a case's name must hold, with commas between")
    parser.add_argument("--sets", type=int, default=0, help="so many sets from seeds in place of the demos")
    parser.add_argument("--first-set", type=int, default=100, help="the first one's seed")
    parser.add_argument("--reference", type=int, default=1024, help="views of each of the two references")
    parser.add_argument("--views", default="16,32", help="filtered, beside the number the tool chooses")
    parser.add_argument("--plain", default="64")
    parser.add_argument("--differences", action="store_true", help="what views are chosen by, a JSON object a row")
    parser.add_argument("--finer", action="store_true", help="also with every triangle of the set cut in four")
    parser.add_argument("--mitsuba", action="store_true")
    parser.add_argument("--samples", default="4,16,64", help="of Mitsuba")
    parser.add_argument("--best", type=int, default=256, help="samples of each of Mitsuba's own two references")
    parser.add_argument("--clip", type=int, help="draw so many frames, of the last of --views, or as chosen")
    parser.add_argument(
        "--draft",
        action="store_true",
        help="as --draft draws, but for the size; of single frames also for the number of views and the light",
    )
    parser.add_argument("--workers", type=int, default=2, help="of a clip")
    parser.add_argument("--json", type=Path, help="also write the rows here")
    asked = parser.parse_args()
    width, height = (int(side) for side in asked.size.split("x"))
    print(f"{datetime.date.today()}, {platform.platform()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    print(f"{gl_description()}\npython {' '.join(sys.argv)}")
    cases = [
        Case(scene, sensor, motion, camera)
        for scene in (range_of_sets(asked.first_set, asked.sets) or SCENES)
        for sensor in SENSORS
        for motion in STREAKS
        for camera in ("panning", "locked")
    ]
    words = [word.strip() for word in asked.only.split(",") if word.strip()]
    stages: dict[str, Any] = {}
    kept = []
    for case in cases:
        if not all(word in case.name.split(", ") for word in words):
            continue
        counts: list[int | None] = [None, *(int(count) for count in asked.views.split(",") if count)]
        if asked.clip:
            look = Look(size=(width, height), views=counts[-1])
            if asked.draft:
                look = replace(look, views=DRAFT_VIEWS, quality="draft", thorough=False)
            print(filmed(case, look, stages, asked.clip, asked.workers), flush=True)
            continue
        ready = prepared(case, (width, height), stages)
        if asked.draft:
            rough = replace(ready.setup.look, quality="draft", thorough=False)
            ready = replace(ready, setup=replace(ready.setup, look=rough))
        number = moving_of(ready.setup.scene, ready.setup.shot).times.count // 2
        reference, own = references(ready, asked.reference, number)
        if asked.differences:
            for row in chosen_by(ready, reference, number, counts):
                print(json.dumps({"case": case.name, "own": round(own, 5), **row}), flush=True)
            continue
        print(f"\n{case.name}: reference 2 x {asked.reference} views, own FLIP {own:.4f}")
        print(
            f"  {'':28} {'s':>7} {'cpu s':>7} {'next s':>7} {'cpu s':>7} {'PSNR':>6} {'FLIP':>7} {'99 %':>6}",
            flush=True,
        )
        rows = measured(ready, reference, number, counts, [int(count) for count in asked.plain.split(",") if count])
        for row in rows:
            print(told(row), flush=True)
        if asked.finer:
            cut = finer(ready)
            print(f"  {triangles(cut)} triangles of the set instead of {triangles(ready)}:", flush=True)
            for row in measured(cut, reference, number, counts, []):
                print(told(row), flush=True)
        if asked.mitsuba:
            for row in in_mitsuba(ready, number, [int(count) for count in asked.samples.split(",")], asked.best):
                print(told(row), flush=True)
                rows.append(row)
        kept += [{"case": case.name, "own": own, **row} for row in rows]
    if asked.json:
        asked.json.write_text(json.dumps(kept, indent=1))


if __name__ == "__main__":
    main()

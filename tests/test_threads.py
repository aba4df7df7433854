"""numpy's linear algebra keeps to one thread, whoever uses us and in whatever order things are loaded."""

import os
import subprocess
import sys

import pytest
from threadpoolctl import threadpool_info

from previz.frames import Crew

SAY = "from threadpoolctl import threadpool_info; print([pool['num_threads'] for pool in threadpool_info()])"


def blas_threads() -> list[int]:
    import numpy  # noqa: F401 - whose library is looked for

    return [pool["num_threads"] for pool in threadpool_info() if pool["user_api"] == "blas"]


def said(program: str, **settings: str) -> list[int]:
    own = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"}
    done = subprocess.run(
        [sys.executable, "-c", f"{program}; {SAY}"], env=own | settings, capture_output=True, text=True, check=True
    )
    return [int(number) for number in done.stdout.strip("[]\n").split(",")]


@pytest.mark.skipif((os.cpu_count() or 1) < 2, reason="one core has one thread anyway")
def test_linear_algebra_of_its_own_accord_takes_every_core() -> None:
    assert max(said("import numpy")) > 1


@pytest.mark.parametrize("program", ["import previz, numpy", "import numpy, previz", "import numpy, previz.stage"])
def test_it_keeps_to_one_thread_whichever_is_loaded_first(program: str) -> None:
    assert said(program) == [1]


@pytest.mark.skipif((os.cpu_count() or 1) < 2, reason="one core has one thread anyway")
@pytest.mark.parametrize("program", ["import previz, numpy", "import numpy, previz"])
def test_a_number_that_a_user_has_set_is_kept(program: str) -> None:
    assert said(program, OPENBLAS_NUM_THREADS="2") == [2]


def test_the_processes_that_draw_keep_to_it() -> None:
    with Crew(1, apart=True) as crew:
        assert set(crew.do(blas_threads)) == {1}

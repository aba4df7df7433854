"""numpy's linear algebra kept to one thread, in every process that uses us.

It would divide larger products among threads of its own. Those go on spinning for a while after each product, and once
as they start, on the cores that `spread.py` and the processes that draw want; and the last bit of a long sum
depends on how many there are.
"""

import os
import sys

#: Read by OpenBLAS as numpy loads it; processes that we start inherit it.
_SETTING = "OPENBLAS_NUM_THREADS"


def one_thread() -> None:
    """From now on, for the whole process: linear algebra has no smaller place to say it.

    Best before numpy is loaded: its threads are then never started, and nothing has to be looked for. A user who has
    set a number keeps it.
    """
    if _SETTING in os.environ:
        return
    os.environ[_SETTING] = "1"
    if "numpy" in sys.modules:
        from threadpoolctl import threadpool_limits  # here: who comes before numpy need not wait for it

        threadpool_limits(1, user_api="blas")

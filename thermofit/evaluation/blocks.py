"""Long arrays are worked off in blocks that stay in the cache, by threads if so asked."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from thermofit.equations.base import Array
from thermofit.errors import InputError
from thermofit.evaluation.evaluator import Evaluator

__all__ = ["BLOCK", "in_blocks", "in_threads", "thread_count"]

BLOCK = 32768
"""Elements of a block with four work arrays: 1 MiB, which stays in the cache."""


def in_blocks(
    values: Array,
    out: Array,
    quick: Evaluator,
    slow: Callable[[int, Array, Array], None],
    workers: int,
) -> None:
    """Evaluate a flat array block by block.

    Parameters
    ----------
    values, out : array, shape (n,)
        They may be the same.
    quick : Evaluator
        For blocks that lie within its limits as a whole.
    slow : callable
        Given the start, the values and the place for the results of any other block: those with a
        missing reading, or one beyond the valid range.
    workers : int
        Number of threads.
    """

    if values.ctypes.data != out.ctypes.data and np.may_share_memory(values, out):
        # The results of one block would take the place of what the next one is to read.
        values = values.copy()

    # The work arrays of a thread take 1 MiB, however many they are: the longer a block, the less
    # often threads ask for the interpreter.
    block = 4 * BLOCK // quick.work_rows

    def work_off(first: int, last: int) -> None:
        work = np.empty((quick.work_rows, block))
        for start in range(first * block, min(last * block, values.size), block):
            stop = min(start + block, values.size)
            part, place = values[start:stop], out[start:stop]
            # NaN compares false, and so goes the slow way.
            if part.min() >= quick.low and part.max() <= quick.high:
                quick.block(part, place, work)
            else:
                slow(start, part, place)

    in_threads(-(-values.size // block), work_off, workers)


def in_threads(count: int, work_off: Callable[[int, int], None], workers: int) -> None:
    """Share the numbers from 0 to `count` out among threads.

    Parameters
    ----------
    count : int
        Of blocks, or whatever is counted.
    work_off : callable
        Given the first number of a share and the one after its last.
    workers : int
        Number of threads.
    """
    workers = min(workers, count)
    if workers <= 1:
        work_off(0, count)
        return
    edges = [count * n // workers for n in range(workers + 1)]
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(workers) as pool:
        list(pool.map(work_off, edges[:-1], edges[1:]))


def thread_count(workers: int) -> int:
    """Number of threads that `workers` asks for, as SciPy counts: −1 is all processors.

    Raises
    ------
    InputError
        Zero, or fewer than −1.
    """
    if workers == -1:
        import os

        return os.cpu_count() or 1
    if isinstance(workers, bool) or not isinstance(workers, int) or workers < 1:
        raise InputError(f"workers must be a number of threads, or -1 for all, not {workers!r}")
    return workers

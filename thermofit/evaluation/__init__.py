"""Quick evaluation: where the speed of T(R) and R(T) lives."""

from thermofit.evaluation.blocks import BLOCK, in_blocks, in_threads, thread_count
from thermofit.evaluation.evaluator import Evaluator, Wanted, evaluator, says_its_polynomial

__all__ = [
    "BLOCK",
    "Evaluator",
    "Wanted",
    "evaluator",
    "in_blocks",
    "in_threads",
    "says_its_polynomial",
    "thread_count",
]

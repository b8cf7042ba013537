"""Many sensors identified at once, for a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from thermofit.decide.bench import Bench
from thermofit.decide.identification.comparison import compare, readings_of, weigh
from thermofit.decide.identification.field import Field
from thermofit.decide.identification.result import credible

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["identified_many"]

Array = npt.NDArray[np.float64]

_NOWHERE = "no family is valid at all of these temperatures"


def identified_many(bench: Bench, field: Field, coverage: float) -> pd.DataFrame:
    """Identify every sensor of a bench.

    Parameters
    ----------
    bench : Bench
    field : Field
    coverage : float
        Of the credible sets.

    Returns
    -------
    pandas.DataFrame
        A row for each sensor; columns as for `thermofit.identify`.
    """
    import pandas as pd
    from scipy.special import chdtrc

    sensors = len(bench.names)
    count = np.bincount(bench.sensor, minlength=sensors)
    start = np.concatenate([[0], np.cumsum(count)[:-1]])
    order = np.argsort(bench.sensor, kind="stable")
    ids = [hypothesis.id for hypothesis in field.hypotheses]
    answers = np.full((sensors, len(ids)), np.nan)
    p_value = np.full((sensors, len(ids)), np.nan)
    outside = np.zeros((sensors, len(ids)), dtype=bool)
    bad = np.zeros(sensors, dtype=bool)
    bad[list(bench.problems)] = True
    for n in np.unique(count[~bad]):
        own = np.flatnonzero((count == n) & ~bad)
        rows = order[start[own][:, np.newaxis] + np.arange(n)]
        found = compare(readings_of(bench, rows), field.hypotheses)
        answers[own] = field.answers(weigh(found.log_density, field.prior))
        p_value[own] = chdtrc(n, found.chi2)
        outside[own] = np.isnan(found.chi2)
    p_value[:, -1] = np.nan
    # Where nothing was compared, "none of these" would be no answer.
    nowhere = ~bad & outside[:, :-1].all(axis=-1)
    problems = dict(bench.problems) | dict.fromkeys(np.flatnonzero(nowhere).tolist(), _NOWHERE)
    bad |= nowhere
    answers[nowhere] = np.nan
    best = np.argmax(np.nan_to_num(answers), axis=-1)
    every = np.arange(sensors)
    frame = pd.DataFrame({
        "sensor": list(bench.names),
        "readings": count,
        "leading": ["" if bad[i] else ids[best[i]] for i in every],
        "probability": answers[every, best],
        "p_value": p_value[every, best],
        "none_probability": answers[:, -1],
        "credible_set": [
            () if bad[i] else tuple(ids[j] for j in credible(answers[i], coverage)) for i in every
        ],
        "out_of_range": [tuple(ids[j] for j in np.flatnonzero(row)) for row in outside],
        "problem": [problems.get(int(i), "") for i in every],
    })  # fmt: skip
    frame.attrs = {"notes": bench.notes, "not_compared": dict(field.left_out)}
    return frame

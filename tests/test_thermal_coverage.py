"""Statistical honesty: intervals of step responses cover the truth as often as they say.

Logs with noise, 3 % wild readings and uneven sampling are simulated and fitted; what is
estimated deviates from the truth as its standard uncertainty says, and 95 % intervals cover it.
"""

from __future__ import annotations

import numpy as np

from tests.thermal_logs import quietly, sensor, times

LOGS = 110
TRUTH = {"tau_s": 20.0, "onset_s": 60.0, "start_c": 22.0, "final_c": 31.0, "step_k": 9.0}


def test_intervals_cover_the_truth_as_often_as_they_say() -> None:
    rng = np.random.default_rng(20)
    off: dict[str, list[float]] = {name: [] for name in TRUTH}
    covered = dict.fromkeys(TRUTH, 0)
    one = 0
    for _ in range(LOGS):
        t_s = times(rng, 90, 2.5)
        t_c = sensor(t_s, 20.0, 60.0, 22.0, 9.0) + 0.05 * rng.standard_normal(90)
        wild = rng.random(90) < 0.03
        t_c[wild] += rng.choice([-1.0, 1.0], wild.sum()) * rng.uniform(0.5, 6.0, wild.sum())
        r = quietly(t_s, t_c)
        one += r.form == "one constant"
        for name, truth in TRUTH.items():
            interval = r.interval(name)
            covered[name] += interval.low <= truth <= interval.high
            off[name].append((interval.value - truth) / interval.standard_uncertainty)
    # Of 2,000 logs of each of nine kinds, run by hand, the time constant was covered in 93.3 to
    # 95.1 %.  Of 110 logs a mean has a standard deviation of 0.10, a standard deviation one of
    # 7 %, and a count one of 2.1 %.  A wild reading at the very onset can mislead by seven
    # standard deviations; the spread is to tell of all others, so its ends are pulled in.
    for name in TRUTH:
        assert abs(np.mean(off[name])) < 0.25, name
        assert 0.85 < np.std(np.clip(off[name], -3.0, 3.0)) < 1.15, name
        assert covered[name] >= 0.9 * LOGS, name
    assert one >= 0.97 * LOGS

"""How often the cause is found, over simulated faults, against a posterior on a dense grid.

The exact posterior is written down apart from the library, in plain NumPy: the sensor's ln R at two
temperatures on a grid (that is γ and β, of which they are a linear map), ln R_contact and ln R_leak
each on a fine grid, every reading's normal density at every point, and a sum.  What it shares with
the library are the published assumptions: priors, spans, tolerances.

A hundred cases are enough to find a fault in the code; THERMOFIT_FULL_STUDY=1 runs 2,000.
"""

from __future__ import annotations

import math
import os
from dataclasses import dataclass, field

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ndtr

import thermofit as tf
from thermofit.decide.cause import PRIORS, SpotReading
from thermofit.decide.cause.assumptions import Assumptions
from thermofit.decide.cause.kinds import priors_of
from thermofit.decide.cause.parts import other_parts, own_part
from thermofit.decide.cause.result import CANNOT_TELL
from thermofit.decide.cause.spot import Place
from thermofit.decide.cause.visit import visit_of
from thermofit.decide.cause.weighing import weigh

Array = NDArray[np.float64]

SEED = 20240611
T_C = (0.0, 50.0)
U_T_K, U_R, U_DISPLAY = 0.2, 0.015, 0.01
OPEN_OHM, SHORT_OHM = 20e6, 10.0
CONTACT, LEAK = (10.0, 100e3), (1e3, 10e6)
INV_T = np.array([1.0 / (t + 273.15) - 1.0 / 298.15 for t in T_C])
TWO = (
    "bad contact and leakage", "wire broken and leakage",
    "sensor out of tolerance and bad contact", "sensor out of tolerance and leakage",
    "controller's input wrong and bad contact", "controller's input wrong and leakage",
    "controller's input wrong and sensor out of tolerance",
)  # fmt: skip


@dataclass(frozen=True)
class Part:
    """A part with a constant B value: ln R = ln R25 + γ + (1 + β)·B·u."""

    id: str
    r25_ohm: float
    b_k: float
    tol_gamma: tuple[float, float] = (math.log(0.99), math.log(1.01))
    tol_beta: float = 0.0075

    @property
    def family(self) -> tf.Family:
        curve = tf.Curve.beta(
            r25_ohm=self.r25_ohm, b_k=self.b_k, id=self.id, t_range_c=(-40.0, 125.0)
        )
        return tf.Family(curve, r25_tol_pct=1.0, b_tol_pct=0.75, source_kind="table")

    @property
    def a(self) -> Array:
        return self.b_k * INV_T

    @property
    def ln_r(self) -> Array:
        return math.log(self.r25_ohm) + self.a

    @property
    def u_x(self) -> Array:
        return np.array([self.b_k / (t + 273.15) ** 2 * U_T_K for t in T_C])


OWN = Part("own", 10e3, 3977.0)
OTHERS = (Part("softer", 10e3, 3435.0), Part("smaller", 5e3, 3988.0))
DRIFT = [
    (g, b)
    for g in np.geomspace(0.3 * (OWN.tol_gamma[1] - OWN.tol_gamma[0]), 0.5, 4)
    for b in np.geomspace(0.6 * OWN.tol_beta, 0.08, 4)
]

DESIGNS = (
    ("c0",), ("s0", "c0"), ("s0", "c0", "c50"), ("s0", "c0", "s50", "c50"), ("c0", "c50"),
    ("s0", "c0", "c0", "c0"), ("s0", "c0", "d0"), ("s0", "c0", "b0", "o0"), ("s0", "s50", "c50"),
)  # fmt: skip
PLACES: dict[str, Place] = {
    "s": "sensor", "c": "connector", "d": "display", "b": "cable bridged", "o": "cable open",
}  # fmt: skip


# ---- simulated visits -------------------------------------------------------------------------


def through(place: str, r_s: float, contact: float, siemens: float, gain: float) -> float:
    """What is measured, by Ohm's law."""
    if place == "s":
        return r_s
    line = {"b": 0.0, "o": math.inf}.get(place, r_s) + contact
    if math.isinf(siemens) or line == 0.0:
        return 0.0
    total = siemens + (0.0 if math.isinf(line) else 1.0 / line)
    r = math.inf if total == 0.0 else 1.0 / total
    return r * gain if place == "d" else r


def visit(kind: str, design: tuple[str, ...], rng: np.random.Generator) -> list[SpotReading]:
    """Readings of a sensor with this fault, drawn from the published assumptions."""

    def log_even(span: tuple[float, float]) -> float:
        return float(np.exp(rng.uniform(*np.log(span))))

    part = OTHERS[rng.integers(len(OTHERS))] if kind == "wrong part fitted" else OWN
    gamma, beta = rng.uniform(*part.tol_gamma), rng.uniform(-part.tol_beta, part.tol_beta)
    if "out of tolerance" in kind:
        while OWN.tol_gamma[0] < gamma < OWN.tol_gamma[1] and abs(beta) < OWN.tol_beta:
            gamma, beta = np.array(DRIFT[rng.integers(len(DRIFT))]) * rng.standard_normal(2)
    x = part.ln_r + gamma + part.a * beta + part.u_x * rng.standard_normal(2)
    r_s = np.exp(x)
    if kind in ("sensor open", "sensor shorted"):
        r_s = np.full(2, math.inf if kind == "sensor open" else 0.0)
    contact = log_even(CONTACT) if "bad contact" in kind else 0.0
    contact = math.inf if "wire broken" in kind else contact
    siemens = 1.0 / log_even(LEAK) if "leakage" in kind else 0.0
    siemens = math.inf if kind == "cable shorted" else siemens
    gain = 1.0
    if "controller" in kind:
        gain = float(rng.choice([0.0, math.inf, 1.0], p=[0.15, 0.15, 0.7])) * log_even((0.1, 10.0))
    found = []
    for item in design:
        now = contact
        if kind == "intermittent contact":
            now = 0.0 if rng.uniform() < 0.5 else log_even(CONTACT)
            now = math.inf if now and rng.uniform() < 0.15 else now
        r = through(item[0], r_s[T_C.index(float(item[1:]))], now, siemens, gain)
        u = math.hypot(U_R, U_DISPLAY * (item[0] == "d"))
        r *= math.exp(u * rng.standard_normal())
        t = float(item[1:])
        if r > OPEN_OHM:
            found.append(SpotReading(PLACES[item[0]], t, math.inf, U_T_K, 0.0, OPEN_OHM))
        else:
            r = r if r > SHORT_OHM else 0.0
            found.append(SpotReading(PLACES[item[0]], t, r, U_T_K, max(U_R * r, 0.1)))
    return found


# ---- the exact posterior ----------------------------------------------------------------------


def normal(y: float, mean: Array, u: float) -> Array:
    # Single precision: a part in 10⁴ of a density, and twice as fast.
    away = ((y - mean) / u).astype(np.float32)
    density: Array = np.exp(-0.5 * away * away) / np.float32(u * math.sqrt(2.0 * math.pi))
    return density


@dataclass
class Grid:
    """A grid of deviations z of ln R at both temperatures, and the mass of parts on it."""

    part: Part
    z: Array
    mass: Array
    blur: list[Array] = field(default_factory=list)

    def __post_init__(self) -> None:
        step = self.z[1] - self.z[0]
        self.blur = [
            normal(0.0, self.z[:, None] - self.z, u) * np.float32(step) for u in self.part.u_x
        ]
        self.mass = self.mass.astype(np.float32)


def within(part: Part, z: Array) -> Array:
    """Mass of parts spread evenly over the tolerance, cell by cell."""
    gamma = np.linspace(*part.tol_gamma, 1201)[1::2]
    beta = np.linspace(-part.tol_beta, part.tol_beta, 1201)[1::2]
    at = [(gamma[:, None] + beta * a).ravel() for a in part.a]
    edges = np.append(z, z[-1] + z[1] - z[0]) - 0.5 * (z[1] - z[0])
    counted = np.histogram2d(at[0], at[1], bins=(edges, edges))[0]
    return np.asarray(counted / at[0].size)


def drifted(z: Array) -> Array:
    """Mass of sensors out of tolerance: normal mixture, without what lies in the tolerance."""
    design = np.stack([np.ones(2), OWN.a], axis=1)
    gamma, beta = np.einsum(
        "ij,jkl->ikl", np.linalg.inv(design), np.stack(np.meshgrid(z, z, indexing="ij"))
    )
    density = sum(normal(0.0, gamma, g) * normal(0.0, beta, b) for g, b in DRIFT) / len(DRIFT)
    cell = (z[1] - z[0]) ** 2 / abs(np.linalg.det(design))
    area = (OWN.tol_gamma[1] - OWN.tol_gamma[0]) * 2.0 * OWN.tol_beta
    outside = np.clip(1.0 - within(OWN, z) * area / cell, 0.0, 1.0)
    mass = density * outside * cell
    return np.asarray(mass / mass.sum())


FINE = np.arange(-0.075, 0.0751, 0.005)
WIDE = np.arange(-1.6, 1.601, 0.01)
NODES = 400


class Exact:
    """The posterior by summation."""

    def __init__(self) -> None:
        self.good = Grid(OWN, FINE, within(OWN, FINE))
        self.off = Grid(OWN, WIDE, drifted(WIDE))
        self.other = [Grid(part, FINE, within(part, FINE)) for part in OTHERS]
        steps = (np.arange(NODES) + 0.5) / NODES
        self.contact, self.leak = (
            np.exp(np.log(span[0]) + steps * np.log(span[1] / span[0])) for span in (CONTACT, LEAK)
        )

    def posterior(self, readings: list[SpotReading]) -> dict[str, float]:
        display = any(r.place == "display" for r in readings)
        two = [kind for kind in TWO if display or "controller" not in kind]
        prior = {k: p for k, p in PRIORS.items() if display or "controller" not in k}
        del prior["two at once"]
        prior |= dict.fromkeys(two, PRIORS["two at once"] / len(two))
        joint = {kind: p * self.evidence(kind, readings) for kind, p in prior.items()}
        total = sum(joint.values())
        return {kind: value / total for kind, value in joint.items()}

    def evidence(self, kind: str, readings: list[SpotReading]) -> float:
        if kind == "something else":
            finite = sum(SHORT_OHM < r.r_ohm < math.inf for r in readings)
            return float(0.1 ** (len(readings) - finite) / math.log(1e9) ** finite)
        grids = self.other if kind == "wrong part fitted" else [self.good]
        if "out of tolerance" in kind:
            grids = [self.off]
        contact, siemens = np.zeros(1), np.zeros(1)
        if "bad contact" in kind:
            contact = self.contact
        if "leakage" in kind:
            siemens = 1.0 / self.leak
        if "wire broken" in kind:
            contact = np.full(1, np.inf)
        if kind == "cable shorted":
            siemens = np.full(1, np.inf)
        c, s = (x.ravel() for x in np.meshgrid(contact, siemens, indexing="ij"))
        weight = np.full(c.size, 1.0 / c.size)
        if c.size > 10 * NODES:
            # Where readings at the nominal place are hopeless by any measure, so is the sum.
            hope = np.ones(c.size)
            for r in readings:
                j = T_C.index(r.t_c)
                at = self.likelihood(kind, r, np.atleast_1d(OWN.ln_r[j]), c, s, 4.0)
                hope = hope * at[0]
            keep = hope > 1e-5 * hope.max()
            if not keep.any():
                return 0.0
            c, s, weight = c[keep], s[keep], weight[keep]
        return sum(self._sum(kind, grid, readings, c, s, weight) for grid in grids) / len(grids)

    def _sum(
        self, kind: str, grid: Grid, readings: list[SpotReading], c: Array, s: Array, weight: Array
    ) -> float:
        raw: list[Array] = []
        lives: list[NDArray[np.intp]] = []
        for j, t in enumerate(T_C):
            value: Array = np.ones((grid.z.size, 1))
            live = np.arange(grid.z.size)
            own = [r for r in readings if r.t_c == t]
            # Those of the sensor first: they leave few points of the grid to the others.
            for r in sorted(own, key=lambda r: r.place != "sensor"):
                value = value * self.likelihood(kind, r, grid.part.ln_r[j] + grid.z[live], c, s)
                if not value.max() > 0.0:
                    return 0.0
                keep = value.max(axis=1) > 1e-14 * value.max()
                value, live = value[keep], live[keep]
            raw.append(value)
            lives.append(live)
        most = np.broadcast_to(raw[0].max(axis=0) * raw[1].max(axis=0), c.shape)
        if not most.max() > 0.0:
            return 0.0
        keep = most > 1e-12 * most.max()
        one, other = (
            grid.blur[j][:, lives[j]] @ (raw[j][:, keep] if raw[j].shape[1] > 1 else raw[j])
            for j in (0, 1)
        )
        rows = np.flatnonzero(one.max(axis=1) > 1e-14 * one.max())
        inner = grid.mass[rows] @ other
        return float(((inner * one[rows]).sum(axis=0) * weight[keep]).sum())

    def likelihood(
        self, kind: str, r: SpotReading, x: Array, c: Array, s: Array, blunt: float = 1.0
    ) -> Array:
        """Of one reading at sensors of ln R x (rows) and states of the wiring (columns)."""
        if kind == "intermittent contact" and r.place not in ("sensor", "cable open"):
            good = self.likelihood("all good", r, x, c, s)
            bad = self.likelihood("bad contact", r, x, self.contact, np.zeros(NODES))
            is_open = float(math.isinf(r.r_ohm))
            episode = 0.85 * bad.mean(axis=1, keepdims=True) + 0.15 * is_open
            return np.asarray(0.5 * good + 0.5 * episode)
        r_s = np.exp(x)[:, None]
        if kind == "sensor open":
            r_s = np.full_like(r_s, np.inf)
        elif kind == "sensor shorted":
            r_s = np.zeros_like(r_s)
        with np.errstate(divide="ignore"):
            if r.place == "sensor":
                ln_r = np.log(r_s)
            else:
                far_end = {
                    "cable bridged": np.zeros_like(r_s),
                    "cable open": np.full_like(r_s, np.inf),
                }
                line = far_end.get(r.place, r_s) + c
                ln_r = -np.log((1.0 / line + s).astype(np.float32 if c.size > NODES else float))
        u = blunt * math.hypot(U_R, U_DISPLAY * (r.place == "display"))
        if "controller" in kind and r.place == "display":
            if math.isinf(r.r_ohm) or r.r_ohm < SHORT_OHM:
                return np.full(ln_r.shape, 0.15)
            y, half = math.log(r.r_ohm), math.log(10.0)
            return np.asarray(
                0.7 / (2.0 * half) * (ndtr((y - ln_r + half) / u) - ndtr((y - ln_r - half) / u))
            )
        if math.isinf(r.r_ohm):
            return np.asarray(ndtr((ln_r - math.log(OPEN_OHM)) / u))
        if r.r_ohm < SHORT_OHM:
            return np.asarray(ndtr((math.log(SHORT_OHM) - ln_r) / u))
        return normal(math.log(r.r_ohm), ln_r, u)


# ---- the study --------------------------------------------------------------------------------


@dataclass
class Study:
    true: list[str]
    exact: list[dict[str, float]]
    ours: list[dict[str, float]]

    @property
    def sure(self) -> list[int]:
        """Cases in which the exact posterior has more than 0.9 for one cause."""
        return [i for i, p in enumerate(self.exact) if max(p.values()) > 0.9]

    def told(self, i: int) -> str:
        lead = max(self.ours[i], key=self.ours[i].__getitem__)
        return lead if self.ours[i][lead] >= 0.5 else CANNOT_TELL

    @property
    def apart(self) -> Array:
        """Total variation distance between the two posteriors."""
        return np.array(
            [
                0.5 * sum(abs(e[k] - o[k]) for k in e)
                for e, o in zip(self.exact, self.ours, strict=True)
            ]
        )

    def confusion(self) -> str:
        """Rows: the leading cause of the exact posterior, where it has 0.9; what ours says."""
        lines: dict[str, dict[str, int]] = {}
        for i in self.sure:
            lead = max(self.exact[i], key=self.exact[i].__getitem__)
            row = lines.setdefault(lead, {})
            row[self.told(i)] = row.get(self.told(i), 0) + 1
        return "\n".join(f"{lead:55s} {row}" for lead, row in sorted(lines.items()))


def run(count: int, seed: int = SEED) -> Study:
    rng = np.random.default_rng(seed)
    exact = Exact()
    own, _ = own_part(OWN.family, None)
    others, _ = other_parts([part.family for part in OTHERS], own, np.array(T_C))
    kinds = [*(k for k in PRIORS if k not in ("two at once", "something else")), *TWO]
    study = Study([], [], [])
    for case in range(count):
        kind = kinds[case % len(kinds)]
        designs = [d for d in DESIGNS if "d0" in d] if "controller" in kind else DESIGNS
        readings = visit(kind, designs[rng.integers(len(designs))], rng)
        gathered = visit_of(readings, own)
        prior = priors_of(None, display=bool(gathered.at("display").any()), others=True)
        _, found = weigh(gathered, own, others, Assumptions(), prior)
        study.true.append(kind)
        study.ours.append(dict(zip(prior, found.tolist(), strict=True)))
        study.exact.append(exact.posterior(readings))
    return study


@pytest.fixture(scope="module")
def study() -> Study:
    """A hundred cases; 2,000 (three minutes) where THERMOFIT_FULL_STUDY is set."""
    return run(2000 if os.environ.get("THERMOFIT_FULL_STUDY") else 102)


def test_what_the_exact_posterior_is_sure_of_is_ranked_first(study: Study) -> None:
    print(study.confusion())
    sure = study.sure
    assert len(sure) > 0.45 * len(study.true) and len({study.true[i] for i in sure}) > 12
    right = [study.told(i) == max(study.exact[i], key=study.exact[i].__getitem__) for i in sure]
    silent = [study.told(i) == CANNOT_TELL for i in sure]
    assert np.mean(right) >= 0.9
    assert np.mean(silent) <= 0.05


def test_the_probabilities_are_those_of_the_grid(study: Study) -> None:
    # Half of what is moved from one cause to another, on average; what is left is the grid's own.
    assert study.apart.mean() < 0.002
    assert np.quantile(study.apart, 0.95) < 0.006

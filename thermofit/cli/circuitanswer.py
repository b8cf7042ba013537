"""What `circuit` answers: the healthy sensor, its faults, what displays mean, the best resistor."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import Any, Final

import click
import numpy as np
import numpy.typing as npt

import thermofit as tf
from thermofit.circuit import (
    BestPull,
    CircuitTable,
    Divider,
    Faults,
    Seen,
    best_pull,
    faults,
    seen,
)
from thermofit.circuit.faultrows import CAUTIONS
from thermofit.cli.choosing import wrong_part
from thermofit.cli.circuitoptions import Controller
from thermofit.cli.circuitvalues import Displayed, all_limits, refuse_ratio_only
from thermofit.curve import Curve
from thermofit.family import Family

__all__ = ["Answer", "Meaning", "Sensor", "answer_json", "answer_of"]

Array = npt.NDArray[np.float64]

# Where a fault is looked at if nobody says how warm it is.
_TRUE_C: Final = 25.0
_GRID: Final = 41
_NO_CAUSE: Final = (
    "no single fault that is known here: two at once, another part, or the controller itself"
)
_TRUE_UNKNOWN: Final = (
    "none, if it is as warm as that; else a contact, moisture or another part: say --actual"
)


@dataclass(frozen=True, eq=False)
class Sensor:
    """The sensor with what the options say of it.

    Parameters
    ----------
    id : str
        Of its curve or family; empty for one that was typed in.
    part : Curve or Family
        With the tolerance and the dissipation factor that a family can hold.
    settings : dict
        Tolerances that a family cannot hold, for tables and errors.
    stated : bool
        Whether the options state a tolerance.
    """

    id: str
    part: Curve | Family
    settings: dict[str, Any]
    stated: bool

    @classmethod
    def of(
        cls, named: Curve | Family, stated: dict[str, Any], dissipation_mw_per_k: float | None
    ) -> Sensor:
        """Put together what was named and what the options state."""
        refuse_ratio_only(named, typed=True)
        part: Curve | Family = named
        settings: dict[str, Any] = {}
        held: dict[str, Any] = {}
        if not set(stated) <= {"r25_pct", "b_pct"}:
            settings = {"tolerance": tf.Tolerance.of(**stated)}
        elif any(isinstance(value, tuple) for value in stated.values()):
            settings = dict(stated)
        else:
            held = {f"{name.removesuffix('_pct')}_tol_pct": pct for name, pct in stated.items()}
        if held or dissipation_mw_per_k is not None:
            family = part if isinstance(part, Family) else _family(part)
            ratings = dict(family.ratings)
            if dissipation_mw_per_k is not None:
                ratings["dissipation_factor_mw_per_k"] = dissipation_mw_per_k
            part = dataclasses.replace(family, ratings=ratings, **held)
        return cls(named.id, part, settings, bool(stated))


@dataclass(frozen=True, eq=False)
class Meaning:
    """What a display means.

    Parameters
    ----------
    display : Displayed
    seen : Seen
    causes : tuple of str
        What would explain it; never empty.
    """

    display: Displayed
    seen: Seen
    causes: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Answer:
    """All that was asked of a circuit; None or empty for what was not.

    Parameters
    ----------
    circuit : Divider
    sensor : Sensor
    controller : Controller
    table : CircuitTable
    found : Faults, optional
    meanings : tuple of Meaning
    best : BestPull, optional
    present_k : float, optional
        What the present fixed resistor has where the best one has ``best.worst_k``.
    """

    circuit: Divider
    sensor: Sensor
    controller: Controller
    table: CircuitTable
    found: Faults | None
    meanings: tuple[Meaning, ...]
    best: BestPull | None
    present_k: float | None

    @property
    def assumed(self) -> list[str]:
        """What was taken since nothing was said of it."""
        said, texts = self.controller, []
        if self.found is not None and said.actual is None:
            texts.append(f"a true {_TRUE_C:g} °C; else say --actual")
        if self.found is not None:
            texts.append("sizes of contact, moisture and sag are examples")
        if self.meanings and said.display_step is None:
            texts.append("the step of the display from the digits as typed; else --display-step")
        if self.meanings and self.sensor.stated and self.sensor.settings:
            texts.append("a tolerance stated in this form does not count among the likely causes")
        return texts

    @property
    def cautions(self) -> list[str]:
        """What to mind on live equipment, each once."""
        texts = [text for one in self.meanings for text in one.seen.cautions]
        return list(dict.fromkeys([*CAUTIONS, *texts]))


def answer_of(
    circuit: Divider,
    sensor: Sensor,
    controller: Controller,
    t_c: Array,
    values: str | None,
    minimise: str | None,
) -> Answer:
    """Compute what was asked.

    Parameters
    ----------
    circuit : Divider
    sensor : Sensor
    controller : Controller
    t_c : array, shape (n,)
        Temperatures of the table in °C, rising.
    values : str, optional
        Series of preferred numbers for the best fixed resistor, or "any".
    minimise : {"error", "resolution"}, optional

    Returns
    -------
    Answer

    Raises
    ------
    click.UsageError
        A range without a width for the best resistor, a part that is not known.
    InputError
        As the library.
    """
    if values is not None and t_c[0] == t_c[-1]:
        raise click.UsageError("--best-pull needs a range, --from below --to")
    others = {name: _other(name) for name in controller.wrong} or None
    table = circuit.table(sensor.part, t_c, coverage=controller.coverage, **sensor.settings)
    limits = all_limits(controller.limits)
    found = None
    if controller.with_faults or limits is not None:
        found = faults(
            circuit,
            sensor.part,
            t_c=_TRUE_C if controller.actual_c is None else controller.actual_c,
            limits=limits,
            fallback_c=controller.fallback_c,
            wrong=others,
        )
    meanings = []
    for display in controller.display:
        step_k = controller.display_step
        one = seen(
            circuit,
            sensor.part,
            display.t_c,
            actual_c=controller.actual_c,
            display_step_k=display.step_k if step_k is None else step_k,
            fallback_c=controller.fallback_c,
            wrong=others,
        )
        notes = tuple(note.replace("state actual_c", "say --actual") for note in one.notes)
        one = dataclasses.replace(one, notes=notes)
        meanings.append(Meaning(display, one, _causes(one, _caught(found))))
    best = present_k = None
    if values is not None:
        best, present_k = _best(circuit, sensor, (t_c[0], t_c[-1]), values, minimise)
    shown = found if controller.with_faults else None
    return Answer(circuit, sensor, controller, table, shown, tuple(meanings), best, present_k)


def answer_json(answer: Answer) -> dict[str, Any]:
    """Describe an answer for `print_json`."""
    circuit, table, best = answer.circuit, answer.table, answer.best
    return {
        "part": answer.sensor.id or None,
        "circuit": dataclasses.asdict(circuit) | {"ratiometric": circuit.ratiometric},
        "coverage": table.coverage,
        "rows": table.to_frame().to_dict(orient="records"),
        "errors": table.budget.to_frame().to_dict(orient="records"),
        "faults": None if answer.found is None else [dataclasses.asdict(r) for r in answer.found],
        "displays": [_meaning_json(one) for one in answer.meanings],
        "best_pull": best
        and {
            "minimised": best.minimised,
            "pull_ohm": best.pull_ohm,
            "worst_k": best.worst_k,
            "present_worst_k": answer.present_k,
            "tried": best.to_frame().to_dict(orient="records"),
        },
        "notes": table.budget.notes,
        "assumed": answer.assumed,
        "cautions": answer.cautions,
    }


def _meaning_json(one: Meaning) -> dict[str, Any]:
    content = dataclasses.asdict(one.seen)
    del content["cautions"]
    return {"option": f"--display {one.display.text}", **content, "causes": one.causes}


def _family(curve: Curve) -> Family:
    return Family(curve if curve.id else curve.replace(id="the sensor"))


def _other(name: str) -> Curve | Family:
    """Look up a part that may be fitted instead."""
    part = wrong_part(name)
    refuse_ratio_only(part)
    return part


def _best(
    circuit: Divider,
    sensor: Sensor,
    ends_c: tuple[float, float],
    values: str,
    minimise: str | None,
) -> tuple[BestPull, float]:
    """Find the best fixed resistor, and what the present one makes of the same range."""
    wanted: Any = minimise or "error"
    series: Any = None if values == "any" else values
    best = best_pull(
        circuit, sensor.part, ends_c, values=series, minimise=wanted, **sensor.settings
    )
    own = circuit.table(sensor.part, np.linspace(*ends_c, _GRID), **sensor.settings)
    each = own.kelvin_per_count
    if wanted == "error":
        each = np.maximum(np.abs(own.low_k), np.abs(own.high_k))
    own_k = float(each.max())
    return best, own_k if math.isfinite(own_k) else math.inf


def _caught(found: Faults | None) -> list[str]:
    """Faults that the limits catch, each once."""
    rows = () if found is None else found.rows
    return list(dict.fromkeys(row.kind for row in rows if row.caught and row.kind != "none"))


def _causes(one: Seen, caught: list[str]) -> tuple[str, ...]:
    """Say what would explain a display; a fallback with the faults that lead to it."""
    texts = []
    for cause in one.explanations:
        kind, text = cause.kind, cause.text
        if kind == "fallback" and caught:
            text = f"it takes the sensor for broken; its limits catch {', '.join(caught)}"
        texts.append(f"{'no fault' if kind == 'none' else kind}: {text}")
    return tuple(texts) or (_TRUE_UNKNOWN if one.actual_c is None else _NO_CAUSE,)

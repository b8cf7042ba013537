"""`bench_sheet`: one HTML file that tells all of a sensor."""

from __future__ import annotations

import datetime
import importlib
import platform
from collections.abc import Mapping, Sequence
from importlib.metadata import PackageNotFoundError, version
from typing import Any, Final

from thermofit.circuit.faultrows import CAUTIONS
from thermofit.circuit.seen import MEASURE
from thermofit.curve import Curve
from thermofit.decide import Verdict, check
from thermofit.errors import InputError
from thermofit.estimate import Fit
from thermofit.family import Family, nominal_curve
from thermofit.interval import coverage_factor
from thermofit.points import Points
from thermofit.readings import Reading, cautions_of, points_of
from thermofit.report.canvas import require
from thermofit.report.sheet import parts
from thermofit.report.sheet.document import document_of, document_text
from thermofit.report.sheet.drawings import draw_all
from thermofit.report.sheet.page import check_sheet_extra, page_text
from thermofit.report.sheet.record import SheetRecord
from thermofit.report.sheet.saved import Sheet
from thermofit.report.sheet.verdictdata import figures_of
from thermofit.report.sheet.wall import limits_for, temperatures_for, wall_of
from thermofit.tolerance import Tolerance

__all__ = ["bench_sheet"]

_COMPUTED_WITH: Final = ("numpy", "scipy", "pandas", "matplotlib", "jinja2")
_PASS: Final = ("A pass at these temperatures does not exclude a fault that comes and goes.",)
_ALWAYS: Final = (
    *CAUTIONS,
    MEASURE,
    "Not for a sensor in a safety function (over-temperature cut-out, battery pack, gas or medical "
    "appliance) without the maker's approval. Follow local codes; leave licensed work to licensed "
    "people.",
)


def bench_sheet(
    found: Fit | Curve,
    *,
    title: str = "",
    family: Family | Curve | None = None,
    tolerance: Tolerance | None = None,
    verdict: Verdict | None = None,
    readings: Sequence[Reading] = (),
    points: Points | None = None,
    made_with: Mapping[str, str] | None = None,
    assumed: Sequence[str] = (),
    remarks: Sequence[str] = (),
    t_range_c: tuple[float, float] | None = None,
    step_k: float | None = None,
    coverage: float = 0.95,
    date: datetime.date | None = None,
    pictures: bool = True,
) -> Sheet:
    """Make one self-contained HTML page of a sensor that was characterised or checked.

    It tells what was measured and with what, the curve with its coefficients, the verdict with
    its risk, and holds a table to tape to the wall, pictures, cautions, and all data for
    `read_sheet`.  It prints on A4 and on Letter, fetches nothing, and is whole without scripts;
    with them it also converts resistances that are typed in.

    Parameters
    ----------
    found : Fit or Curve
        From `thermofit.characterise` or `thermofit.fit`; or a stored curve.
    title : str
        What the sensor is called; its id by default.
    family : Family or Curve, optional
        What it should be.  With readings the sheet has a verdict, and with a tolerance the
        table has limits.
    tolerance : Tolerance, optional
        Instead of the family's; with a verdict it is that of the verdict.
    verdict : Verdict, optional
        From `thermofit.check`; without it, the points are checked against a family that states a
        tolerance, as by default.
    readings : sequence of Reading
        What the fit was made of, for its baths and budgets.
    points : Points, optional
        What was measured, if `found` is a curve; otherwise that of the fit.
    made_with : mapping of str to str
        Instruments: ``{"meter": "0.8%+3"}``.
    assumed, remarks : sequence of str
        What was taken as usual; what else was found.
    t_range_c : (float, float), optional
        First and last temperature of the table, within the valid range, which is the default.
    step_k : float, optional
        Its step; by default such that it has some 85 rows at most.
    coverage : float
        Probability of all intervals.
    date : datetime.date, optional
        Today by default.  With the same date, the same values make the same page.
    pictures : bool
        Whether to draw; needs matplotlib.

    Returns
    -------
    Sheet

    Raises
    ------
    InputError
        Something else than a fit or a curve, or than texts; a table beyond the valid range; points
        that are not those of the fit or of the readings; a verdict of another family or about
        another tolerance.
    ThermofitError
        jinja2 or matplotlib is not installed.

    Examples
    --------
    Invented readings of a fan-aspirated air sensor of a glasshouse climate controller:

    >>> import thermofit as tf
    >>> from thermofit.report.sheet import bench_sheet
    >>> p = tf.Points([0, 25, 70], [32640, 10020, 1741], u_t_k=0.1, u_r_ohm=[160, 50, 9])
    >>> sheet = bench_sheet(
    ...     tf.characterise(p), title="House 3, inlet", family=tf.family("ntc-10k-3977"),
    ...     t_range_c=(0, 60), pictures=False,
    ... )
    >>> sheet.record.verdict["verdict"], sheet.record.points == p
    ('cannot tell', True)
    """
    if not isinstance(found, Fit | Curve):
        raise InputError(
            f"a bench sheet is of a Fit or of a Curve, not of {type(found).__name__}; "
            "thermofit.characterise and thermofit.fit give fits"
        )
    for value, kind, name in (
        (points, Points, "points"), (tolerance, Tolerance, "tolerance"),
        *((reading, Reading, "each of readings") for reading in readings),
    ):  # fmt: skip
        if value is not None:
            require(value, kind, name, "see the examples of bench_sheet")
    coverage_factor(coverage)
    check_sheet_extra(pictures)
    curve = found.curve if isinstance(found, Fit) else found
    readings = tuple(readings)
    points = _points(found, readings, points)
    t_c, t_range_c, step_k = temperatures_for(curve, t_range_c, step_k)
    if tolerance is None and verdict is None and isinstance(family, Family):
        tolerance = family.tolerance
    verdict, unjudged = _verdict(verdict, points, family, tolerance)
    if verdict is not None:
        tolerance = verdict.tolerance
    nominal = None if family is None else nominal_curve(family, "family")
    if isinstance(date, datetime.datetime):
        date = date.date()
    record = SheetRecord(
        title=(title.strip() if isinstance(title, str) else title)
        or curve.id
        or "Temperature sensor",
        date=date or datetime.date.today(),
        curve=curve,
        points=points,
        readings=readings,
        family=(nominal.id if nominal else "") or (verdict.family if verdict else ""),
        verdict=None if verdict is None else figures_of(verdict),
        coverage=float(coverage),
        t_range_c=t_range_c,
        step_k=step_k,
        made_with=made_with or {},
        assumed=assumed,
        warnings=(*(found.warnings if isinstance(found, Fit) else ()), *unjudged),
        remarks=remarks,
        cautions=(*cautions_of(readings), *_ALWAYS, *(_PASS if verdict is not None else ())),
        versions=_versions(),
    )
    limits = limits_for(family, tolerance, points, verdict, t_c)
    drawn = {}
    if pictures:
        drawn = draw_all(found, points, coverage, family, tolerance, verdict, t_range_c)
    return Sheet(record, _page(record, found, wall_of(curve, t_c, coverage, limits), limits, drawn))


def _page(record: SheetRecord, found: Any, wall: Any, limits: Any, drawn: Any) -> str:
    from markupsafe import Markup

    document = document_of(record)
    view = {
        "record": record,
        "title": record.title,
        "percent": f"{100.0 * record.coverage:g} %",
        "points": parts.points_grid(record),
        "budgets": parts.budget_grids(record),
        "facts": parts.curve_facts(record),
        "coefficients": parts.coefficient_grid(record.curve),
        "contributions": parts.contribution_grid(found),
        "verdict_facts": parts.verdict_facts(record) if record.verdict else [],
        "judged": parts.judged_grid(record),
        "wall": wall,
        "limits": limits,
        "known": record.curve.covariance is not None,
        "converter": document["content"]["converter"],
        "checksum": document["sha256"],
        "drawn": {name: (Markup(one.svg), one.words) for name, one in drawn.items()},
    }
    return page_text(view, document_text(document))


def _points(
    found: Fit | Curve, readings: tuple[Reading, ...], points: Points | None
) -> Points | None:
    known = found.points if isinstance(found, Fit) else points
    if isinstance(found, Fit) and points is not None and points != known:
        raise InputError("these points are not those of the fit; leave points out")
    if readings:
        of_readings = points_of(readings)
        if known is not None and of_readings != known:
            raise InputError("these readings are not those that the curve was made of")
        known = known or of_readings
    return known


def _verdict(
    verdict: Verdict | None,
    points: Points | None,
    family: Family | Curve | None,
    tolerance: Tolerance | None,
) -> tuple[Verdict | None, tuple[str, ...]]:
    """Give the verdict, or why there is none although there are readings and a family."""
    if verdict is not None:
        if not isinstance(verdict, Verdict):
            raise InputError(f"the verdict must be a Verdict, not {type(verdict).__name__}")
        name = nominal_curve(family, "family").id if family is not None else verdict.family
        if name and name != verdict.family:
            raise InputError(f"the verdict is of {verdict.family}, and the family is {name}")
        if tolerance not in (None, verdict.tolerance):
            raise InputError(
                f"the verdict is about {verdict.tolerance}, and the tolerance is {tolerance}; "
                "leave the tolerance out"
            )
        return verdict, ()
    if family is None or points is None:
        return None, ()
    if tolerance is None:
        return None, ("no verdict: the family states no tolerance",)
    if points.u_t_k is None and points.u_r_ohm is None:
        return None, ("no verdict: the readings state no uncertainties",)
    return check(points, family, tolerance=tolerance), ()


def _versions() -> dict[str, str]:
    # By name, since the package itself stands above its rooms.
    own: str = importlib.import_module("thermofit").__version__
    found = {"thermofit": own, "Python": platform.python_version()}
    for name in _COMPUTED_WITH:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    return found

"""Pictures of what the other rooms find, and the bench sheet; the extras `pictures` and `sheet`."""

from thermofit.report.canvas import check_pictures, save_picture
from thermofit.report.circuits import divider_picture
from thermofit.report.curves import curve_picture, residuals_picture
from thermofit.report.plane import plane_picture
from thermofit.report.plans import plan_picture
from thermofit.report.sheet import Sheet, SheetRecord, bench_sheet, read_sheet
from thermofit.report.steps import step_picture
from thermofit.report.substitutes import substitutes_picture
from thermofit.report.svg import svg_of
from thermofit.report.tolerances import band_picture

__all__ = [
    "Sheet",
    "SheetRecord",
    "band_picture",
    "bench_sheet",
    "check_pictures",
    "curve_picture",
    "divider_picture",
    "plan_picture",
    "plane_picture",
    "read_sheet",
    "residuals_picture",
    "save_picture",
    "step_picture",
    "substitutes_picture",
    "svg_of",
]

"""The bench sheet: one HTML file of a sensor, and reading it back."""

from thermofit.report.sheet.finding import read_sheet
from thermofit.report.sheet.making import bench_sheet
from thermofit.report.sheet.page import check_sheet_extra
from thermofit.report.sheet.record import SheetRecord
from thermofit.report.sheet.saved import Sheet

__all__ = ["Sheet", "SheetRecord", "bench_sheet", "check_sheet_extra", "read_sheet"]

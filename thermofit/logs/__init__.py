"""Long logs, converted file to file with memory that stays flat."""

from __future__ import annotations

from thermofit.logs.converting import convert_log
from thermofit.logs.summary import LogConversion

__all__ = ["LogConversion", "convert_log"]

"""Published values to check against; README.md names the sources."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt

HERE = Path(__file__).parent

RT_TABLES = ("10k", "33k", "47k", "100k")


def columns(name: str) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Two columns of a file in this folder."""
    first, second = np.loadtxt(HERE / name, delimiter=",", skiprows=1, unpack=True)
    return first, second


def rt_table(name: str) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Temperatures in °C and resistances in ohms of a published R–T table."""
    return columns(f"rt_table_ntc_{name}.csv")

"""The curve sets that ship with thermofit."""

from __future__ import annotations

from pathlib import Path

from thermofit.errors import PluginError

__all__ = ["SHIPPED_SETS", "shipped_folder"]

SHIPPED_SETS = ("ntc.csv", "platinum.csv")
"""File names of the sets."""

_MARK = "datapackage.json"


def shipped_folder() -> Path:
    """Find the folder of the shipped curve sets.

    Returns
    -------
    Path
        Inside the package where it is installed; beside it in a source tree,
        which an editable install leads to.

    Raises
    ------
    PluginError
        There is none: the installation is damaged.

    Examples
    --------
    >>> (shipped_folder() / "ntc.csv").is_file()
    True
    """
    package = Path(__file__).resolve().parents[1]
    # The mark tells the folder from any other that is called "curves".
    for folder in (package / "curves", package.parent / "curves"):
        if (folder / _MARK).is_file():
            return folder
    raise PluginError(
        f"the shipped curve sets are neither in {package / 'curves'} nor in "
        f"{package.parent / 'curves'}; install thermofit again"
    )

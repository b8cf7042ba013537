"""What ``--version`` tells: of thermofit, and of what its figures depend on."""

from __future__ import annotations

import platform
from importlib.metadata import PackageNotFoundError, version
from typing import Final

import thermofit

__all__ = ["versions", "versions_text"]

_NEEDED: Final = ("numpy", "scipy", "pandas", "lmfit", "odrpack", "uncertainties", "iapws")
_EXTRA: Final = ("matplotlib", "jinja2", "dask", "pyarrow")


def versions() -> dict[str, str | None]:
    """Give versions by name; None for what is not installed.

    Returns
    -------
    dict of str to str or None
        thermofit and Python first, then packages whose arithmetic the figures rest on, then
        those of the extras.
    """
    found: dict[str, str | None] = {
        "thermofit": thermofit.__version__,
        "Python": platform.python_version(),
    }
    for name in (*_NEEDED, *_EXTRA):
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = None
    return found


def versions_text() -> str:
    """Write them, thermofit's own on a line of its own."""
    found = versions()
    lines = [f"thermofit {found.pop('thermofit')}"]
    with_it = ", ".join(f"{name} {number}" for name, number in found.items() if number)
    lines.append(f"with {with_it}")
    missing = [name for name, number in found.items() if number is None]
    if missing:
        lines.append(f"not installed: {', '.join(missing)}")
    return "\n".join(lines)

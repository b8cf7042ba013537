"""The page itself: one file, which no script is needed to read, and which calls nowhere."""

from __future__ import annotations

import base64
import hashlib
import importlib.util
from functools import cache
from importlib.resources import files
from typing import Any, Final

from thermofit.errors import ThermofitError
from thermofit.texttable import legal

__all__ = ["check_sheet_extra", "page_text"]

_NEEDED: Final = ("jinja2", "matplotlib")


def check_sheet_extra(pictures: bool = True) -> None:
    """Refuse to make a sheet where what it is made with is missing.

    Parameters
    ----------
    pictures : bool
        Whether there will be pictures, which need matplotlib.

    Raises
    ------
    ThermofitError
        It says how to install it.
    """
    needed = _NEEDED if pictures else _NEEDED[:1]
    missing = [name for name in needed if importlib.util.find_spec(name) is None]
    if missing:
        raise ThermofitError(
            f"a bench sheet needs {' and '.join(missing)}, which is not installed; install it by "
            'python -m pip install "thermofit[sheet]"'
        )


def page_text(view: dict[str, Any], data: str) -> str:
    """Fill the template.

    Parameters
    ----------
    view : dict
        What the template names; every text in it is escaped.
    data : str
        The data of the sheet, as `document_text` writes it.

    Returns
    -------
    str
        The whole page.
    """
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
        finalize=_shown, keep_trailing_newline=True,
    )  # fmt: skip
    style, script = _part("sheet.css"), _part("converter.js")
    policy = (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )
    return environment.from_string(_part("sheet.html")).render(
        # Ours, and the data without a sign that could end an element: not to be escaped.
        policy=Markup(policy), style=Markup(style), script=Markup(script), data=Markup(data),
        **view,
    )  # fmt: skip


def _shown(value: Any) -> Any:
    """Replace what has no picture, among it marks that turn the direction of writing."""
    from markupsafe import Markup

    if isinstance(value, str) and not isinstance(value, Markup):
        return legal(value)
    return value


def _hash(text: str) -> str:
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode("ascii")
    return f"sha256-{digest}"


@cache
def _part(name: str) -> str:
    return files("thermofit.report.sheet").joinpath(name).read_text(encoding="utf-8")

"""A picture as SVG that can stand inside a page: by itself, the same each time, described."""

from __future__ import annotations

import hashlib
import io
import re
import xml.etree.ElementTree as ET
from typing import TYPE_CHECKING, Final

from thermofit.errors import InputError
from thermofit.report.canvas import drawing, figure_of
from thermofit.texttable import legal

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["svg_of"]

_NAMESPACE: Final = "http://www.w3.org/2000/svg"
_LINK: Final = "{http://www.w3.org/1999/xlink}href"
# Text stays text, so that it can be searched, copied and enlarged; these are wide-spread fonts
# no wider than the one that it was laid out with.
_FONTS: Final = "'DejaVu Sans', Verdana, Arial, sans-serif"
_FONT: Final = re.compile(r"(?:(italic|oblique) )?(?:(bold|[1-9]00) )?([\d.]+px)")
_SETTINGS: Final = {
    "svg.hashsalt": "thermofit",
    "svg.fonttype": "none",
    "font.family": ["DejaVu Sans"],
}
_REFERENCE: Final = re.compile(r"url\(#([^)]+)\)")
_NUMBER: Final = re.compile(r"-?\d+\.\d{3,}")


def svg_of(ax: Axes, *, title: str, description: str) -> str:
    """Give the figure of some axes as SVG for a page.

    Parameters
    ----------
    ax : matplotlib Axes
    title : str
        What the picture is, in a few words.
    description : str
        What it shows, for those who do not see it.

    Returns
    -------
    str
        One ``<svg>`` element without an XML header: ``role="img"`` with ``<title>`` and
        ``<desc>``, a ``viewBox`` and no size of its own, nothing from outside, no script, no
        style sheet and no attribute ``style``, no date.  The same picture and words give the
        same text, and other ones other ids, so that several can stand in one page.

    Raises
    ------
    InputError
        The title or the description is empty.
    ThermofitError
        matplotlib is not installed.

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.report import curve_picture, svg_of
    >>> inlet = tf.family("ntc-10k-3977").curve
    >>> drawn = svg_of(
    ...     curve_picture(inlet), title="Curve", description="Resistance from -55 to 155 °C"
    ... )  # doctest: +SKIP
    >>> drawn.startswith('<svg xmlns="http://www.w3.org/2000/svg" ')  # doctest: +SKIP
    True
    """
    for name, text in (("title", title), ("description", description)):
        if not (isinstance(text, str) and text.strip()):
            raise InputError(f"the {name} of a picture is text that says something, not {text!r}")
    title, description = legal(title), legal(description)
    raw = io.BytesIO()
    with drawing(_SETTINGS):
        figure_of(ax).savefig(raw, format="svg", metadata={"Date": None})
    root = ET.fromstring(raw.getvalue().decode())
    view = root.attrib["viewBox"]
    _tidy(root)
    told = hashlib.sha256(b"\0".join([ET.tostring(root), title.encode(), description.encode()]))
    prefix = f"p{told.hexdigest()[:10]}-"
    _rename(root, prefix)
    root.attrib.clear()
    root.attrib |= {
        "xmlns": _NAMESPACE,
        "viewBox": view,
        "preserveAspectRatio": "xMinYMid",
        "role": "img",
        "aria-labelledby": f"{prefix}title {prefix}desc",
        "stroke-linejoin": "round",
        "stroke-linecap": "butt",
        "font-family": _FONTS,
    }
    for place, (tag, text) in enumerate((("title", title), ("desc", description))):
        words = ET.Element(tag, {"id": prefix + tag})
        words.text = text
        root.insert(place, words)
    return ET.tostring(root, encoding="unicode")


def _tidy(root: ET.Element) -> None:
    """Take out what a page has no use for, and name tags as HTML does, without a namespace."""
    used = {
        name
        for element in root.iter()
        for value in element.attrib.values()
        for name in _REFERENCE.findall(value)
    }
    used |= {value[1:] for element in root.iter() if (value := element.attrib.get(_LINK))}
    for parent in list(root.iter()):
        parent.text, parent.tail = _inked(parent.text), _inked(parent.tail)
        for child in list(parent):
            style = child.find(f"{{{_NAMESPACE}}}style")
            if child.tag.endswith("}metadata"):
                parent.remove(child)
            elif style is not None:  # for everything on the page; the root says the same
                child.remove(style)
        if parent.attrib.get("id") not in used:
            parent.attrib.pop("id", None)
    for element in root.iter():
        element.tag = element.tag.rpartition("}")[2]
        if _LINK in element.attrib:
            element.attrib["href"] = element.attrib.pop(_LINK)
        for name in ("d", "x", "y"):
            if name in element.attrib:
                rounded = _NUMBER.sub(lambda found: f"{float(found[0]):.2f}", element.attrib[name])
                element.attrib[name] = " ".join(rounded.split())
        element.attrib |= _as_attributes(element.attrib.pop("style", ""))


def _as_attributes(style: str) -> dict[str, str]:
    """Properties as attributes of SVG, which no policy of a page for styles forbids."""
    pairs = (part.partition(":")[::2] for part in style.split(";") if part.strip())
    told = {name.strip(): value.strip() for name, value in pairs}
    if found := _FONT.match(told.pop("font", "")):
        names = ("font-style", "font-weight", "font-size")
        told |= {name: value for name, value in zip(names, found.groups(), strict=True) if value}
    told.pop("font-family", None)  # the root has it
    return told


def _rename(root: ET.Element, prefix: str) -> None:
    for element in root.iter():
        for name, value in element.attrib.items():
            if name == "id":
                element.attrib[name] = prefix + value
            elif name == "href" and value.startswith("#"):
                element.attrib[name] = f"#{prefix}{value[1:]}"
            else:
                element.attrib[name] = _REFERENCE.sub(rf"url(#{prefix}\1)", value)


def _inked(text: str | None) -> str | None:
    return text if text and text.strip() else None

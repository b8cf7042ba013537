"""What the header of a column says: its quantity, its unit, and whether it is an uncertainty.

A header is understood as a whole or not at all: one word that is not in the
lists below, and the column counts as something else.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from thermofit.units import TemperatureUnit, resistance_unit, temperature_unit

__all__ = ["QUANTITIES", "Column", "Kind", "Unit", "recognise", "unit_in", "unit_name", "unit_of"]

Kind = Literal["t", "r", "u_t", "u_r"]

Unit = TemperatureUnit | Literal["mK", "%", "ppm"] | float
"""A temperature unit; a number is a resistance unit in ohms; % and ppm are of the reading."""

QUANTITIES: Final[dict[Kind, str]] = {
    "t": "temperature",
    "r": "resistance",
    "u_t": "uncertainty of the temperature",
    "u_r": "uncertainty of the resistance",
}

_LONGEST_HEADER = 80


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


_TEMPERATURE: Final = _words(
    "t temp temps temperature temperatures tbath t90 θ theta temperatur temperatuur température "
    "temperatura t1 t2 t3 t4 t5 t6 t7 t8 t9"
)
# Only R1 to R9 are numbered sensors: R25 and R100 are values of a curve.
_RESISTANCE: Final = _words(
    "r res resist resistance resistances rt rx rth rntc widerstand weerstand résistance "
    "resistenza resistencia resistência r1 r2 r3 r4 r5 r6 r7 r8 r9"
)
_BESIDE_THE_POINT: Final = _words(
    "of the measured meas bath ref reference true actual air water sensor probe thermistor ntc "
    "ptc element thermometer mean average avg reading readings value val channel ch dmm meter "
    "multimeter ohmmeter"
)
_TIME: Final = _words(
    "s sec secs second seconds ms min mins minute minutes h hr hrs hour hours d day days "
    "hh:mm hh:mm:ss utc"
)
_OF_THE_READING: Final[dict[str, Unit]] = {
    "%": "%", "percent": "%", "pct": "%", "%ofreading": "%", "%rdg": "%", "ppm": "ppm",
}  # fmt: skip
_OHM_NAMES: Final = {1e-3: "mΩ", 1.0: "Ω", 1e3: "kΩ", 1e6: "MΩ", 1e9: "GΩ"}

_COVERAGE = re.compile(r"[,;]?\s*[(\[]?\s*\bk\s*=\s*(\d+(?:[.,]\d+)?)\s*[)\]]?", re.IGNORECASE)
_DEGREES = re.compile(
    r"(?<![^\W_])deg(?:rees?|\.)?[ _]*(c|f|k|celsius|fahrenheit|kelvin)\b", re.IGNORECASE
)
_BRACKET = re.compile(r"(.*?)[ _]*[(\[{]([^()\[\]{}]*)[)\]}]")
_LAST_WORD = re.compile(r"(.+?)[ _\-:,]+([^ _\-:,]+)")
_GLUED = re.compile(
    r"(t(?:emp(?:erature)?)?)(°[cfk])|(temp(?:erature)?)([cfk])|(r(?:es(?:istance)?)?)([kmg]?(?:Ω|ohms?))",
    re.IGNORECASE,
)
_RESISTANCE_AT_T = re.compile(r"r[ _]?(?:\(t\)|t)", re.IGNORECASE)
# Other signs belong to sentences, or to a separator that was not taken for one.
_NAME = re.compile(r"[\w .()\[\]{}-]*")
_U_GLUED = re.compile(r"([uUσ])([tTrRθ]|[tT]emp\w*|[rR]es\w*)")
_S_OF = re.compile(r"s ?\(.*\)")


@dataclass(frozen=True)
class Column:
    """What a column holds.

    Parameters
    ----------
    kind : {"t", "r", "u_t", "u_r"}
    unit : Unit or None
        None where the header states none.
    k : float
        Coverage factor by which an expanded uncertainty is divided; 1 otherwise.
    refusal : str
        Why the column cannot be used as it is, and the way out; "" if it can.
    """

    kind: Kind
    unit: Unit | None = None
    k: float = 1.0
    refusal: str = ""


def recognise(header: str) -> Column | None:
    """Read the header of a column.

    Parameters
    ----------
    header : str
        "T (°C)", "R/kOhm", "temp_f", "u(T)", "U(R) k=2", "kΩ" …

    Returns
    -------
    Column or None
        None where it is none of a temperature, a resistance, or the uncertainty
        of one.

    Examples
    --------
    >>> recognise("R (K)")
    Column(kind='r', unit=1000.0, k=1.0, refusal='')
    >>> recognise("t (s)"), recognise("note")
    (None, None)
    """
    text, k = _plain(header)
    if not text or len(text) > _LONGEST_HEADER:
        return None
    for name, unit_text, bracketed in _splits(text):
        found = _quantity(name)
        if found is None:
            continue
        kind, doubt = found
        unit = unit_in(kind, unit_text) if unit_text else None
        if unit is not None or not unit_text:
            return Column(kind, unit, *_coverage(kind, doubt, k))
        if bracketed:
            return _with_odd_bracket(kind, unit_text, name, doubt, k)
    return _unit_alone(text)


def unit_of(header: str, kind: Kind) -> Unit | None:
    """Find the unit in a header whose quantity is known otherwise.

    Examples
    --------
    >>> unit_of("Channel 7 (kΩ)", "r"), unit_of("left sensor", "r")
    (1000.0, None)
    """
    text, _ = _plain(header)
    if len(text) > _LONGEST_HEADER:
        return None
    for _, unit_text, _ in _splits(text):
        unit = unit_in(kind, unit_text) if unit_text else None
        if unit is not None:
            return unit
    return unit_in(kind, text)


def unit_in(kind: Kind, text: str) -> Unit | None:
    """Read a unit as one of the quantity: "K" is kelvin, or kΩ of a resistance."""
    text = text.strip(" ()[]{}")
    if kind == "r":
        return resistance_unit(text)
    if kind == "u_r":
        squeezed = text.lower().replace(" ", "")
        return _OF_THE_READING.get(squeezed) or resistance_unit(text)
    if kind == "u_t" and text.replace(" ", "") in ("mK", "m°C"):
        return "mK"
    return temperature_unit(text)


def unit_name(unit: Unit) -> str:
    """Write a unit as a person would.

    Examples
    --------
    >>> unit_name("F"), unit_name(1e3), unit_name("%")
    ('°F', 'kΩ', '% of the reading')
    """
    if isinstance(unit, float):
        return _OHM_NAMES[unit]
    if unit in ("%", "ppm"):
        return f"{unit} of the reading"
    return f"°{unit}" if unit in ("C", "F") else unit


def _plain(header: str) -> tuple[str, float | None]:
    """One spelling for what looks alike, and the coverage factor taken out."""
    if len(header) > 4 * _LONGEST_HEADER:
        return header, None
    # NFKC turns ℃, ㏀ and the ohm sign into plain letters, but º into an o.
    text = unicodedata.normalize("NFKC", header.replace("º", "°")).replace("ϑ", "θ")
    text = _DEGREES.sub(r"°\1", " ".join(text.split()))
    k = None
    found = _COVERAGE.search(text)
    if found:
        k = float(found.group(1).replace(",", "."))
        text = f"{text[: found.start()]} {text[found.end() :]}".strip()
    return text, k


def _splits(text: str) -> Iterator[tuple[str, str, bool]]:
    """Ways to part a header into name and unit, the most explicit first."""
    bracket = _BRACKET.fullmatch(text)
    if bracket:
        yield bracket.group(1), bracket.group(2).strip(), True
    for sign in ("/", " in ", ","):
        name, found, unit = text.rpartition(sign)
        if found:
            yield name, unit.strip(), False
    last = _LAST_WORD.fullmatch(text)
    if last:
        yield last.group(1), last.group(2), False
    glued = _GLUED.fullmatch(text)
    if glued:
        name, unit = (part for part in glued.groups() if part is not None)
        yield name, unit, False
    yield text, "", False


def _quantity(name: str) -> tuple[Kind, str] | None:
    """Tell the quantity of a name, and what kind of uncertainty it is, if one.

    The second is "" for a quantity, "standard", "expanded" or "unstated".
    """
    if _RESISTANCE_AT_T.fullmatch(name):
        return "r", ""
    if not _NAME.fullmatch(name):
        return None
    tokens = re.findall(r"[^\W_]+", name)
    if tokens and (parts := _U_GLUED.fullmatch(tokens[0])):
        tokens[:1] = parts.groups()
    quantities: list[Kind] = []
    doubts: list[str] = []
    standard = False
    for place, token in enumerate(tokens):
        word = token.lower()
        if word in _TEMPERATURE:
            quantities.append("t")
        elif word in _RESISTANCE:
            quantities.append("r")
        elif place == 0 and (token in ("u", "std") or (token == "s" and _S_OF.fullmatch(name))):
            doubts.append("standard")
        elif place == 0 and token == "U":
            doubts.append("expanded")
        elif word in ("σ", "sigma", "sd", "stdev"):
            doubts.append("standard")
        elif word in ("std", "standard"):
            standard = True
        elif word in ("dev", "deviation") and (standard or "standard" in doubts):
            doubts[:] = ["standard"]
        elif word in ("uncertainty", "unc"):
            if "standard" not in doubts:
                doubts.append("standard" if standard else "unstated")
        elif word == "expanded":
            doubts.append("expanded")
        elif word not in _BESIDE_THE_POINT and not re.fullmatch(r"ch\d{1,2}", word):
            return None
    if "expanded" in doubts:
        doubts = ["expanded"]
    if len(quantities) != 1 or len(doubts) > 1 or (standard and not doubts):
        return None
    if not doubts:
        return quantities[0], ""
    return ("u_t" if quantities[0] == "t" else "u_r"), doubts[0]


def _coverage(kind: Kind, doubt: str, k: float | None) -> tuple[float, str]:
    """Tell what to divide by, or why the column cannot be used."""
    if k is not None and not doubt:
        return 1.0, "a coverage factor k belongs to an uncertainty; delete it from the header"
    if k is not None and not 0.0 < k < 100.0:
        return 1.0, f"k = {k:g} is no coverage factor; write the right one, such as k=2"
    if doubt == "standard" and k not in (None, 1.0):
        return 1.0, (
            "the header names a standard uncertainty, which has no k, and states one; "
            "write U for an expanded uncertainty, as in U(T) k=2"
        )
    if doubt in ("expanded", "unstated") and k is None:
        small, large = ("u(T)", "U(T) k=2") if kind == "u_t" else ("u(R)", "U(R) k=2")
        what = (
            "upper-case U is an expanded uncertainty, and its coverage factor is not stated"
            if doubt == "expanded"
            else "the header does not say whether this is a standard or an expanded uncertainty"
        )
        return 1.0, f"{what}; write {small} for a standard one or state k, as in {large}"
    return (k or 1.0), ""


def _with_odd_bracket(
    kind: Kind, inner: str, name: str, doubt: str, k: float | None
) -> Column | None:
    """Judge a bracket that holds no unit of the quantity."""
    if kind == "t" and inner.lower() in _TIME:
        return None
    if name.strip() and _quantity(f"{name} {inner}") == (kind, doubt):
        # "T (bath)": the bracket tells more about the name.
        return Column(kind, None, *_coverage(kind, doubt, k))
    example = {"t": "°C, °F or K", "r": "Ω, kΩ or MΩ", "u_t": "K or °F", "u_r": "Ω, kΩ or %"}[kind]
    return Column(kind, refusal=f"{inner!r} is no unit of a {_plainly(kind)}; write {example}")


def _plainly(kind: Kind) -> str:
    return QUANTITIES[kind].removeprefix("uncertainty of the ")


def _unit_alone(text: str) -> Column | None:
    """Read a header that is only a unit; a k alone could be kelvin or kilo-ohm."""
    text = text.strip(" ()[]{}")
    temperature = temperature_unit(text)
    if temperature is not None and text != "k":
        return Column("t", temperature)
    ohms = resistance_unit(text)
    if (ohms is not None and len(text) > len("k")) or text in ("Ω", "\u2126"):
        return Column("r", ohms)
    return None

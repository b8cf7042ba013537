"""The names of sensors in a points file: a column of them that nobody asked for, and twins."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping

from thermofit.pointsfile.columns import Kind
from thermofit.pointsfile.layout import Layout
from thermofit.pointsfile.roles import Role, Used

__all__ = ["like_names", "one_taken", "unread_names"]

_SHOWN = 5


def unread_names(layout: Layout, roles: Mapping[Kind, Role]) -> Used | None:
    """Find the column that plainly names sensors, and that is not read."""
    headers = [header.casefold() for header in layout.header]
    if headers.count("sensor") != 1:
        return None
    place = headers.index("sensor")
    read = any(role.place == place for role in roles.values())
    return None if read else Used(place, layout.header[place])


def one_taken(names: Used) -> str:
    """Say that the rows of several sensors were taken as those of one."""
    return (
        f"all rows taken as readings of one sensor, though {names.title} names several "
        f"(thermofit check --sensor-column judges each by itself)"
    )


def like_names(sensors: Iterable[str]) -> list[str]:
    """Say which names are so much alike that one sensor may be meant.

    Examples
    --------
    >>> like_names(["box 3", "box 5", "Box  3", "box 3"])
    ["'box 3' and 'Box  3' taken as two sensors: write one name in one way"]
    """
    seen: dict[str, str] = {}
    pairs = []
    for name in dict.fromkeys(sensors):
        plain = "".join(unicodedata.normalize("NFKC", name).casefold().split())
        first = seen.setdefault(plain, name)
        if first != name:
            pairs.append(f"{first!r} and {name!r}")
    if not pairs:
        return []
    more = len(pairs) - _SHOWN
    shown = ", ".join(pairs[:_SHOWN]) + (f", and {more} more such pairs" if more > 0 else "")
    return [f"{shown} taken as two sensors: write one name in one way"]

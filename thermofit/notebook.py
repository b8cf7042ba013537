"""How values show themselves in a notebook: their text, with its tables as tables."""

from __future__ import annotations

import re
from collections.abc import Sequence

from thermofit.texttable import Table, legal, tables_apart

__all__ = ["ShownInNotebooks", "as_html"]


class ShownInNotebooks:
    """What has a text for people is shown by it in a notebook, too."""

    def _repr_html_(self) -> str:
        return as_html(self)


def as_html(value: object) -> str:
    """Write the text of a value as a piece of HTML.

    Parameters
    ----------
    value : object or callable
        What has a text, or what gives one; it may hold tables of `thermofit.texttable.aligned`.

    Returns
    -------
    str
        A ``div`` without scripts, styles of the page or links; whatever the text says is
        escaped, and marks that are not seen but do something are shown as �.

    Examples
    --------
    >>> as_html("1 < 2")
    '<div><p>1 &lt; 2</p></div>'
    """
    from html import escape
    from secrets import token_hex

    # What nobody could have written into a name or a note, and what is not shown.
    mark = f"\ue000{token_hex(8)}"
    with tables_apart(mark) as tables:
        text = str(value() if callable(value) else value)
    blocks = []
    for block in re.split(rf"\n*^[ ]*({mark}\d+{mark})[ ]*$\n*|\n\n+", text, flags=re.MULTILINE):
        if block is None or not block.strip():
            continue
        if block.startswith(mark):
            blocks.append(_table(tables[int(block.removeprefix(mark).removesuffix(mark))]))
        else:
            lines = (escape(legal(line.strip())) for line in block.split("\n"))
            blocks.append(f"<p>{'<br>'.join(line for line in lines if line)}</p>")
    return f"<div>{''.join(blocks)}</div>"


def _table(table: Table) -> str:
    rows, left, header = table
    opening = 'th scope="col"'
    head = f"<thead><tr>{_cells(rows[0], left, opening)}</tr></thead>" if header else ""
    body = rows[1:] if header else rows
    lines = "".join(f"<tr>{_cells(row, left, 'td')}</tr>" for row in body)
    return f"<table>{head}<tbody>{lines}</tbody></table>"


def _cells(row: Sequence[str], left: Sequence[int], opening: str) -> str:
    from html import escape

    sides = ("left" if at in left else "right" for at in range(len(row)))
    cells = (escape(legal(cell)).replace("\n", "<br>") for cell in row)
    return "".join(
        f'<{opening} style="text-align: {side}; padding: 0.1em 0.6em">{cell}</{opening[:2]}>'
        for side, cell in zip(sides, cells, strict=True)
    )

"""What values show in a notebook."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import Any

import pytest

import thermofit as tf
from thermofit.notebook import as_html

# Invented readings of an aspirated air sensor.
POINTS = tf.Points(
    t_c=[0.0, 25.0, 70.3], r_ohm=[32640, 10020, 1741], u_t_k=0.1, u_r_ohm=[160, 50, 9]
)


class Cells(HTMLParser):
    """Tags that are open, and the texts of cells."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.rows: list[list[str]] = []

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        assert not [name for name, _ in attrs if name not in ("style", "scope")]
        self.tags.add(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")
        if tag != "br":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open[-1] in ("td", "th"):
            self.rows[-1][-1] += data


def read(html: str) -> Cells:
    cells = Cells()
    cells.feed(html)
    assert cells.open == []
    return cells


def values() -> dict[str, Any]:
    family = tf.family("ntc-10k-3977")
    fit = tf.fit(POINTS, equation="steinhart-hart")
    return {
        "curve": fit.curve,
        "fit": fit,
        "points": POINTS,
        "family": family,
        "families": tf.families(),
        "characterised": tf.characterise(POINTS),
        "band": tf.tolerance_band(family, [0, 25, 50]),
        "verdict": tf.check(POINTS, family),
        "identification": tf.identify(POINTS),
        "interval": fit.temperature([4700.0, 10e3]),
        "substitutes": tf.substitutes(family, (0, 60), candidates=["ntc-10k-3950"]),
        "limits": tf.acceptance_limits(family, [20.0], u_t_k=0.2, u_r_pct=0.5),
    }


@pytest.mark.parametrize("name", list(values()))
def test_each_result_shows_itself_as_well_formed_html(name: str) -> None:
    html = values()[name]._repr_html_()
    cells = read(html)
    assert cells.tags <= {"div", "p", "br", "table", "thead", "tbody", "tr", "th", "td"}
    assert "\ue000" not in html


def test_the_tables_of_a_fit_have_its_numbers() -> None:
    fit = tf.fit(POINTS, equation="steinhart-hart")
    cells = read(fit._repr_html_())
    shown = [row for row in cells.rows if row[0] == "b"]
    assert shown[0][2] == repr(fit.coefficients["b"])
    assert ["t / °C", "R", "residual in t / K", "residual in R / %"] in cells.rows


def test_a_curve_tells_what_is_known_of_its_coefficients() -> None:
    curve = tf.fit(POINTS, equation="beta").curve.replace(id="inlet")
    shown = {row[0]: row[1] for row in read(curve._repr_html_()).rows if len(row) == 2}
    assert repr(curve.coefficients["b_k"]) in shown["b_k"]
    assert "standard uncertainty" in shown["b_k"]


def test_hostile_names_are_shown_and_not_run() -> None:
    hostile = "<script>alert(1)</script>"
    points = tf.Points([0.0, 25.0], [32640, 10020], source=hostile)
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977, source=hostile, note='"><img src=x>')
    for value in (tf.fit(points, equation="beta"), curve):
        html = value._repr_html_()
        assert "<script" not in html and "<img" not in html
        assert "&lt;script&gt;" in html


def test_text_without_a_table_becomes_paragraphs() -> None:
    assert as_html("a\n  b\n\nc & d") == "<div><p>a<br>b</p><p>c &amp; d</p></div>"


def test_a_name_cannot_stand_for_a_table() -> None:
    # Characters for private use have marked the places of tables.
    for name in ("\ue0000\ue000", "\ue00099\ue000"):
        shown = tf.Curve.beta(r25_ohm=10e3, b_k=3977, id=name)._repr_html_()
        assert shown.count("<table>") == 2
        assert name.strip("\ue000") in shown.partition("<table>")[0]


def test_marks_that_turn_the_direction_of_writing_are_shown() -> None:
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="in\u202elet", note="fan\u2066 2")
    shown = curve._repr_html_()
    assert "in�let" in shown
    assert "fan� 2" in shown

"""Reading bench sheets back: all of it, to the last bit, or a clear refusal."""

from __future__ import annotations

import copy
import dataclasses
import json
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import thermofit as tf
from tests.samples import TABLE
from tests.sheets import DATE, characterised, readings, stored
from tests.test_equations import EXAMPLES
from tests.test_package import HEAVY, loaded_after
from thermofit.budget import Budget, Contribution
from thermofit.equations import Equation
from thermofit.errors import FileError, InputError
from thermofit.report.sheet import SheetRecord, bench_sheet, read_sheet
from thermofit.report.sheet.document import _checksum, document_of, document_text, record_from_text

pytest.importorskip("jinja2")

BETA = tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="inlet", t_range_c=(0, 60))


def again(record: SheetRecord) -> SheetRecord:
    """Through the text inside a page."""
    return record_from_text(document_text(document_of(record)))


def assert_same_curve(mine: tf.Curve, theirs: tf.Curve) -> None:
    for name in ("equation", "coefficients", "t_min_c", "t_max_c", "dof", "range_basis", "id",
                 "source", "licence", "note", "extra"):  # fmt: skip
        assert getattr(mine, name) == getattr(theirs, name), name
    assert (mine.covariance is None) == (theirs.covariance is None)
    if mine.covariance is not None and theirs.covariance is not None:
        assert mine.covariance.tobytes() == theirs.covariance.tobytes()


def test_a_characterised_sensor_comes_back_from_the_file_alone(tmp_path: Path) -> None:
    sheet = characterised()
    sheet.save(tmp_path / "sheet.html")
    record = read_sheet(tmp_path / "sheet.html")
    assert_same_curve(record.curve, sheet.record.curve)
    assert record.points == sheet.record.points
    assert record.readings == readings()
    assert record.readings[0].bath.cautions  # type: ignore[union-attr]
    same = ("title", "date", "family", "coverage", "t_range_c", "step_k", "made_with", "assumed",
            "warnings", "remarks", "cautions", "versions")  # fmt: skip
    for name in same:
        assert getattr(record, name) == getattr(sheet.record, name), name
    # What the file says of the band, the library says of the curve that was read.
    r_ohm = record.curve.resistance(np.linspace(0, 60, 7))
    mine = record.curve.temperature_interval(r_ohm)
    theirs = sheet.record.curve.temperature_interval(r_ohm)
    assert np.array_equal(mine.low, theirs.low)


def test_the_figures_of_a_verdict_come_back(tmp_path: Path) -> None:
    sheet = characterised()
    verdict = tf.check(tf.characterise(readings()), tf.family("ntc-10k-3977"))
    sheet.save(tmp_path / "sheet.html")
    figures = read_sheet(tmp_path / "sheet.html").verdict
    assert figures is not None
    for name in ("verdict", "probability", "cause", "reason", "gamma", "beta", "u_gamma", "u_beta",
                 "correlation", "chi2", "dof", "family", "notes"):  # fmt: skip
        assert figures[name] == getattr(verdict, name), name
    assert figures["risk"] == 0.05
    assert figures["tolerance"] == str(verdict.tolerance)
    assert math.isnan(figures["p_value"]) == math.isnan(verdict.p_value)
    for at, row in enumerate(figures["readings"]):
        assert row["r_ohm"] == verdict.readings.r_ohm[at]
        assert row["accept_high_ohm"] == verdict.readings.accept_high_ohm[at]
        assert row["verdict"] == verdict.readings.verdict[at]


@pytest.mark.parametrize(
    ("form", "numbers", "t_range_c"), EXAMPLES, ids=[case[0].name for case in EXAMPLES]
)
@given(parts=st.lists(st.floats(-0.02, 0.02), min_size=7, max_size=7), dof=st.floats(0.5, 1e9))
@settings(max_examples=8)
def test_every_equation_comes_back_to_the_last_bit(
    form: Equation, numbers: list[float], t_range_c: tuple[float, float], parts: list[float],
    dof: float,
) -> None:  # fmt: skip
    c = np.array([n * (1.0 + part) for n, part in zip(numbers, parts, strict=False)])
    root = np.diag(c) * 1e-3 + 1e-7 * np.outer(c, np.arange(len(c)))
    curve = tf.Curve(
        form, c, *t_range_c, covariance=root @ root.T if len(c) else None, dof=dof,
        extra={"made by": "the workshop"},
    )  # fmt: skip
    assert_same_curve(again(SheetRecord("", DATE, curve)).curve, curve)


def test_a_table_keeps_its_nodes_and_slopes() -> None:
    assert_same_curve(again(SheetRecord("", DATE, TABLE)).curve, TABLE)


@pytest.mark.parametrize("basis", ["stated", "data", "assumed"])
def test_a_range_keeps_what_it_rests_on(basis: Any) -> None:
    curve = tf.Curve(BETA.equation, BETA.coefficients, 0.1, 59.9, range_basis=basis)
    assert again(SheetRecord("", DATE, curve)).curve.range_basis == basis


@given(
    text=st.text(st.characters(), max_size=60),
    t_c=st.lists(st.floats(-200, 800), min_size=1, max_size=5),
    u=st.floats(0, 1e6),
)
def test_any_text_and_any_points_come_back(text: str, t_c: list[float], u: float) -> None:
    points = tf.Points(t_c, [1.0 / 3.0] * len(t_c), u_r_ohm=u, source=text, notes=[text])
    record = SheetRecord(
        text, DATE, BETA.replace(source=text), points, made_with={text: text}, remarks=(text, "")
    )
    written = document_text(document_of(record))
    assert written.isascii()
    assert not set("<>&") & set(written)
    found = record_from_text(written)
    assert found.points == points
    assert (found.points.source, found.points.notes) == (text, (text,))
    assert (found.title, found.curve.source, found.remarks) == (text, text, (text, ""))
    assert found.made_with == {text: text}


def test_budgets_with_correlations_come_back() -> None:
    parts = [
        Contribution("one", 0.1, k=2, dof=7, shared="gain", note="certificate"),
        Contribution("other", 0.2, "triangular", unit="hPa", sensitivity=-0.03),
    ]
    temperature = Budget(25.0, "°C", parts, [("one", "other", -0.5)])
    reading = tf.Reading(temperature, Budget(10e3, "Ω", [Contribution("meter", 50, unit="Ω")]))
    assert again(SheetRecord("", DATE, BETA, readings=(reading,))).readings == (reading,)


def test_a_sheet_without_points_has_none() -> None:
    record = again(stored(BETA).record)
    assert (record.points, record.verdict, record.readings) == (None, None, ())


def test_reading_needs_nothing_heavy(tmp_path: Path) -> None:
    stored(BETA).save(tmp_path / "sheet.html")
    line = f"import thermofit as tf; from thermofit.report.sheet import read_sheet; read_sheet({str(tmp_path / 'sheet.html')!r})"  # noqa: E501
    assert not loaded_after(line) & {*HEAVY, "jinja2"}


# -- what is no sheet -------------------------------------------------------------------


@pytest.fixture
def page(tmp_path: Path) -> Callable[[str | bytes], Path]:
    def page(content: str | bytes) -> Path:
        path = tmp_path / "sheet.html"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return page


Page = Callable[[str | bytes], Path]
HTML = stored(BETA).html
DATA = re.search(r'id="thermofit-sheet">(.*?)</script>', HTML, flags=re.DOTALL)
assert DATA is not None
DOCUMENT = json.loads(DATA[1])


def holding(document: Any) -> str:
    assert DATA is not None
    written = document if isinstance(document, str) else json.dumps(document)
    return HTML[: DATA.start(1)] + written + HTML[DATA.end(1) :]


def with_(*path: str, value: Any) -> dict[str, Any]:
    """Give the document with one value changed, and a checksum that fits."""
    document: dict[str, Any] = copy.deepcopy(DOCUMENT)
    part = document["content"]
    for name in path[:-1]:
        part = part[name]
    part[path[-1]] = value
    document["sha256"] = _checksum(document["content"])
    return document


def test_the_page_of_these_tests_can_be_read(page: Page) -> None:
    assert read_sheet(page(holding(DOCUMENT))).curve.id == "inlet"
    assert read_sheet(page(b"\xef\xbb\xbf" + HTML.encode())).curve.id == "inlet"
    assert read_sheet(page(holding(with_("new", value=[1, {"a": None}])))).curve.id == "inlet"


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "no bench sheet"),
        (b"<html>hello</html>", "no bench sheet"),
        (b"t_c,r_ohm\n0,32600\n", "no bench sheet"),
        (b"\xff\xfe<\x00", "no text in UTF-8"),
        (HTML.replace('type="application/json"', 'type="text/plain"'), "no bench sheet"),
        (HTML + HTML, "data of 2 sheets"),
        (HTML[: DATA.end(1) - 40], "ends within its data"),
        (holding("{"), "damaged"),
        (holding("[" * 200_000), "damaged"),
        (holding('{"format": 1, "format": 2}'), "stands twice"),
        (holding('{"format": NaN}'), "NaN is no number of JSON"),
        (HTML.replace("3977.0", "1e999"), "1e999 is beyond all numbers"),
        (holding("[]"), "the data is no object"),
        (holding("{}"), "has no format"),
        (holding(DOCUMENT | {"format": "thermofit-fit"}), "of the format 'thermofit-fit'"),
        (holding(DOCUMENT | {"format_version": 2}), "version 2, and this thermofit reads"),
        (holding(DOCUMENT | {"sha256": "0" * 64}), "checksum does not fit"),
        (HTML.replace("3977.0", "3987.0"), "checksum does not fit"),
    ],
)  # fmt: skip
def test_what_is_no_whole_sheet_is_refused(page: Page, content: str | bytes, told: str) -> None:
    path = page(content)
    with pytest.raises(FileError, match=told) as caught:
        read_sheet(path)
    assert caught.value.path == str(path)


@pytest.mark.parametrize(
    ("document", "told"),
    [
        (with_("title", value=7), "content.title is no text"),
        (with_("date", value="yesterday"), "'yesterday' is no date"),
        (with_("coverage", value=True), "coverage is no finite number"),
        (with_("coverage", value="0.95"), "coverage is no finite number"),
        (with_("assumed", value="all"), "assumed is no list"),
        (with_("assumed", value=[1]), "assumed is no text"),
        (with_("curve", value=None), "curve is no object"),
        (with_("curve", "equation", value="__import__('os')"), "no equation is called"),
        (with_("curve", "coefficients", value=[1.0]), "has 2 coefficients"),
        (with_("curve", "coefficients", value=[10e3, 10**400]), "coefficients is no finite"),
        (with_("curve", "coefficients", value=[10e3, -3977.0]), "does not fall"),
        (with_("curve", "coefficient_names", value=["b_k", "r25_ohm"]), "other names"),
        (with_("curve", "covariance", value=[[1.0, 2.0], [2.0, 1.0]]), "correlation beyond"),
        (with_("curve", "covariance", value=[1.0]), "no list of rows"),
        (with_("curve", "dof", value=-1), "degrees of freedom"),
        (with_("curve", "range_basis", value="hope"), "range_basis"),
        (with_("curve", "t_max_c", value=-300), "valid range"),
        (with_("curve", "extra", value={"a": 1}), "extra.a is no text"),
        (with_("readings", value=[{}]), r"readings\[0\] has no temperature"),
        (with_("points", value={"t_c": [0], "r_ohm": [-1], "u_t_k": None, "u_r_ohm": None,
                                "source": None, "notes": []}), "not above zero"),
        (with_("verdict", value={}), "verdict has no"),
    ],
)  # fmt: skip
def test_values_that_cannot_be_are_refused_though_the_checksum_fits(
    page: Page, document: dict[str, Any], told: str
) -> None:
    with pytest.raises(FileError, match=told):
        read_sheet(page(holding(document)))


def test_data_nested_at_the_edge_of_what_can_be_read_are_refused() -> None:
    empty = '{"format": "thermofit-sheet", "format_version": 1, "sha256": "", "content": {"a": '
    for depth in range(500, 1100):
        with pytest.raises(InputError, match=r"damaged|changed"):
            record_from_text(f"{empty}{'[' * depth}{']' * depth}}}}}")


@pytest.mark.parametrize("part", ["<!--", "<a b='", "<script ", "</script"])
def test_a_large_file_of_beginnings_is_refused_in_one_pass(page: Page, part: str) -> None:
    with pytest.raises(FileError, match="no bench sheet"):
        read_sheet(page(part * (2**21 // len(part))))


def test_a_verdict_is_one_of_three() -> None:
    document = document_of(characterised().record)
    document["content"]["verdict"]["verdict"] = "splendid"
    document["sha256"] = _checksum(document["content"])
    with pytest.raises(InputError, match="'splendid' is no verdict"):
        record_from_text(document_text(document))


@given(at=st.integers(0, 10**6), by=st.integers(1, 255))
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_damage_passes_unseen(page: Page, at: int, by: int) -> None:
    """One byte that is another: the same is read, or it is refused with the file's name."""
    assert DATA is not None
    raw = bytearray(HTML.encode())
    start = HTML[: DATA.start(1)].encode()
    at = len(start) + at % len(DATA[1])
    raw[at] ^= by
    try:
        found = read_sheet(page(bytes(raw)))
    except FileError:
        return
    assert_same_curve(found.curve, BETA)
    assert found.title == "inlet"


def test_a_file_that_is_too_large_is_not_read(page: Page) -> None:
    with pytest.raises(FileError, match="larger than the 100 bytes"):
        read_sheet(page(HTML), max_bytes=100)
    assert read_sheet(page(HTML), max_bytes=len(HTML.encode())).title == "inlet"


def test_a_missing_file_is_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        read_sheet(tmp_path / "none.html")


def test_a_record_shows_itself_in_a_line() -> None:
    record = characterised().record
    assert repr(record).startswith("<SheetRecord 'House 3, inlet' of 2026-03-21, cannot tell: ")
    with pytest.raises(dataclasses.FrozenInstanceError):
        record.title = ""  # type: ignore[misc]


def test_a_sheet_can_be_made_again_of_what_was_read() -> None:
    record = again(characterised().record)
    made = bench_sheet(
        record.curve, title=record.title, points=record.points, readings=record.readings,
        family=tf.family(record.family), made_with=record.made_with, assumed=record.assumed,
        remarks=record.remarks, t_range_c=record.t_range_c, step_k=record.step_k,
        coverage=record.coverage, date=record.date, pictures=False,
    )  # fmt: skip
    assert document_of(made.record) == document_of(characterised(pictures=False).record)

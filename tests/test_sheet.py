"""Bench sheets: what stands on the page, and what must not."""

from __future__ import annotations

import base64
import dataclasses
import datetime
import hashlib
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import thermofit as tf
from tests.sheets import DATE, METER, characterised, readings, stored
from tests.test_package import HEAVY, loaded_after
from thermofit.errors import InputError, StorageError, ThermofitError
from thermofit.report.sheet import Sheet, bench_sheet
from thermofit.report.sheet.converterdata import converter_data
from thermofit.report.sheet.wall import temperatures_for
from thermofit.units import parse_resistance

pytest.importorskip("jinja2")

BETA = tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="inlet", t_range_c=(0, 60))
AIR = tf.Family(tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="air"), 2.0, 1.0)
# Invented, near the nominal part.
POINTS = tf.Points([0.0, 25.0, 60.0], [33980, 10015, 2459], u_t_k=0.05, u_r_ohm=[30, 10, 3])


class Tables(HTMLParser):
    """Cells of the tables for the wall, row by row."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self._cell = False
        self.feed(html[html.index('id="table"') :].partition("</section>")[0])

    def handle_starttag(self, tag: str, attrs: object) -> None:  # noqa: ARG002
        if tag == "tr":
            self.rows.append([])
        self._cell = tag in {"td", "th"}
        if self._cell:
            self.rows[-1].append("")

    def handle_endtag(self, tag: str) -> None:  # noqa: ARG002
        self._cell = False

    def handle_data(self, data: str) -> None:
        if self._cell:
            self.rows[-1][-1] += data


def wall(sheet: Sheet) -> tuple[list[str], list[list[str]]]:
    """Heads, and rows of cells in order."""
    heads, *rows = Tables(sheet.html).rows
    return heads, [row for row in rows if row != heads]


def ohms(cells: list[str]) -> np.ndarray:
    return np.array([parse_resistance(cell.replace(" ", "")) for cell in cells])


# -- the table for the wall -------------------------------------------------------------


def test_the_table_is_the_curve_to_five_digits() -> None:
    heads, rows = wall(bench_sheet(BETA, step_k=1, date=DATE, pictures=False))
    assert heads == ["°C", "°F", "R"]
    t_c = [float(row[0]) for row in rows]
    assert t_c == list(range(61))
    assert [float(row[1]) for row in rows] == pytest.approx([1.8 * t + 32.0 for t in t_c])
    np.testing.assert_allclose(ohms([row[2] for row in rows]), BETA.resistance(t_c), rtol=5.1e-5)


def test_it_says_how_well_the_curve_is_known() -> None:
    curve = BETA.replace(covariance=[[400.0, 0.0], [0.0, 100.0]], dof=5)
    heads, rows = wall(bench_sheet(curve, step_k=5, coverage=0.9, date=DATE, pictures=False))
    assert heads[3] == "± K"
    r_ohm = curve.resistance([float(row[0]) for row in rows])
    band = curve.temperature_interval(r_ohm, coverage=0.9)
    half_k = 0.5 * (band.high - band.low)
    shown = np.array([float(row[3]) for row in rows])
    # Two digits, and never less than it is.
    assert (shown >= half_k).all()
    assert (shown <= half_k + 1.0001 * 10.0 ** (np.floor(np.log10(half_k)) - 1.0)).all()


def test_limits_of_a_tolerance_are_those_of_the_band_rounded_inwards() -> None:
    sheet = bench_sheet(BETA, family=AIR, step_k=5, date=DATE, pictures=False)
    heads, rows = wall(sheet)
    assert heads[-2:] == ["allowed from", "to"]
    assert "without a guard band" in sheet.html
    band = tf.tolerance_band(AIR, [float(row[0]) for row in rows])
    low, high = ohms([row[-2] for row in rows]), ohms([row[-1] for row in rows])
    assert (low >= band.r_low_ohm).all()
    assert (high <= band.r_high_ohm).all()
    np.testing.assert_allclose([low, high], [band.r_low_ohm, band.r_high_ohm], rtol=1.1e-4)


@pytest.mark.parametrize("rule", ["guarded", "simple"])
def test_limits_keep_the_guard_band_of_the_least_certain_reading(rule: Any) -> None:
    fitted = tf.fit(POINTS, equation="beta")
    verdict = tf.check(POINTS, AIR, rule=rule, risk=0.1)
    heads, rows = wall(
        bench_sheet(fitted, family=AIR, verdict=verdict, step_k=10, date=DATE, pictures=False)
    )
    assert heads[-2:] == ["accept from", "to"]
    u_r_pct = 100.0 * float((POINTS.u_r_ohm / POINTS.r_ohm).max())  # type: ignore[operator]
    limits = tf.acceptance_limits(
        AIR, [float(row[0]) for row in rows], u_t_k=0.05, u_r_pct=u_r_pct, rule=rule, risk=0.1
    )
    low, high = ohms([row[-2] for row in rows]), ohms([row[-1] for row in rows])
    np.testing.assert_allclose(low, limits.accept_low_ohm, rtol=1.1e-4)
    np.testing.assert_allclose(high, limits.accept_high_ohm, rtol=1.1e-4)
    assert (low >= limits.accept_low_ohm).all()
    assert (high <= limits.accept_high_ohm).all()


def test_temperatures_are_round_steps_and_both_ends() -> None:
    t_c, ends, step_k = temperatures_for(BETA, (0.5, 10.25), 2.0)
    assert t_c.tolist() == [0.5, 2.0, 4.0, 6.0, 8.0, 10.0, 10.25]
    assert (ends, step_k) == ((0.5, 10.25), 2.0)
    assert temperatures_for(BETA, None, None)[1:] == ((0.0, 60.0), 1.0)
    wide = tf.Curve.beta(r25_ohm=10e3, b_k=3977)
    t_c, _, step_k = temperatures_for(wide, None, None)
    assert (step_k, t_c[0], t_c[-1]) == (2.0, -40.0, 125.0)
    assert temperatures_for(tf.Curve.callendar_van_dusen(r0_ohm=100.0), None, None)[2] == 20.0
    # A third is no binary fraction, and yet gives no end twice.
    assert temperatures_for(BETA, (0, 1), 1 / 3)[0] == pytest.approx([0, 1 / 3, 2 / 3, 1])


@pytest.mark.parametrize(
    ("t_range_c", "step_k", "told"),
    [
        ((60, 0), None, "from a lower to a higher"),
        ((0, np.nan), None, "from a lower to a higher"),
        ((-10, 60), None, "valid from 0 to 60 °C"),
        ((0, 60), 0.0, "0.001 K or more"),
        ((0, 0.1), 5e-4, "0.001 K or more"),
        ((0, 60), 0.1, "more than 500 rows"),
    ],
)
def test_a_table_that_cannot_be_is_refused(
    t_range_c: tuple[float, float], step_k: float | None, told: str
) -> None:
    with pytest.raises(InputError, match=told):
        bench_sheet(BETA, t_range_c=t_range_c, step_k=step_k, pictures=False)


def test_each_row_is_of_the_temperature_that_stands_there() -> None:
    sheet = bench_sheet(BETA, t_range_c=(0, 0.1), step_k=1e-3, date=DATE, pictures=False)
    _, rows = wall(sheet)
    t_c = [float(row[0]) for row in rows]
    assert t_c == pytest.approx(np.arange(101) * 1e-3)
    np.testing.assert_allclose(ohms([row[2] for row in rows]), BETA.resistance(t_c), rtol=5.1e-5)


def test_the_limits_are_those_that_the_verdict_is_about() -> None:
    close = tf.Tolerance.of(r25_pct=0.5, b_pct=0.5)
    verdict = tf.check(POINTS, AIR, tolerance=close)
    fitted = tf.fit(POINTS, equation="beta")
    made = bench_sheet(fitted, family=AIR, verdict=verdict, step_k=10, date=DATE, pictures=False)
    meant = bench_sheet(fitted, family=AIR, tolerance=close, step_k=10, date=DATE, pictures=False)
    assert made.html == meant.html
    with pytest.raises(InputError, match=r"the verdict is about .* ± 0\.5 %"):
        bench_sheet(fitted, family=AIR, verdict=verdict, tolerance=AIR.tolerance)


# -- the page ---------------------------------------------------------------------------


def text_of(sheet: Sheet) -> str:
    """What the page says, apart from its data and scripts."""
    body = re.sub(r"<(script|style|svg).*?</\1>", " ", sheet.html, flags=re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", body).split())


def test_the_sheet_tells_what_was_measured_and_what_it_means() -> None:
    sheet = characterised()
    told = text_of(sheet)
    verdict = tf.check(tf.characterise(readings()), tf.family("ntc-10k-3977"))
    assert sheet.record.verdict is not None
    assert sheet.record.verdict["probability"] == verdict.probability
    assert verdict.reason in told
    for text in (
        "House 3, inlet", "2026-03-21", "Verdict: cannot tell", "guarded, risk 5 %",
        "with a probability of 5 % at most", "ice point, slush", "stirred bath, water",
        "32.600 kΩ", "0.8%+3", "the bath uniform within ± 0.2 K", "the leads are 12 m long",
        "B with its bend", "r25_ohm", "bend of the families", "thermometer accuracy",
        "Hot water and steam scald", "both its leads disconnected", "safety function",
        "does not exclude a fault that comes and goes", "ntc-10k-3977: R(25 °C) ± 5 %",
    ):  # fmt: skip
        assert text in told
    for value in np.asarray(sheet.record.curve.coefficients):
        assert repr(float(value)) in told


def test_readings_are_judged_with_limits_rounded_inwards() -> None:
    sheet = bench_sheet(tf.fit(POINTS, equation="beta"), family=AIR, date=DATE, pictures=False)
    verdict = tf.check(POINTS, AIR)
    told = text_of(sheet)
    shown = told[told.index("Each reading judged by itself") :]
    for at, words in enumerate(re.findall(r"([\d.]+ k?Ω (?:[\d.]+ k?Ω ){4})accept", shown)):
        cells = ohms(re.findall(r"[\d.]+ k?Ω", words))[1:]
        exact = [getattr(verdict.readings, name)[at] for name in
                 ("low_ohm", "high_ohm", "accept_low_ohm", "accept_high_ohm")]  # fmt: skip
        assert (cells[[0, 2]] >= np.array(exact)[[0, 2]]).all()
        assert (cells[[1, 3]] <= np.array(exact)[[1, 3]]).all()
        np.testing.assert_allclose(cells, exact, rtol=1.1e-4)
    assert at == 2
    assert "with 1 degree of freedom" in told


def test_cautions_stand_once_each() -> None:
    cautions = characterised().record.cautions
    assert len(set(cautions)) == len(cautions)
    assert not any("pass at" in caution for caution in stored(BETA).record.cautions)
    assert not any("scald" in caution for caution in stored(BETA).record.cautions)


def test_pictures_stand_for_what_there_is() -> None:
    assert characterised().html.count("<svg ") == 4
    alone = bench_sheet(BETA, date=DATE)
    assert alone.html.count("<svg ") == 1
    warm = 10e3 * np.exp(3977.0 * (1.0 / 333.15 - 1.0 / 298.15))
    assert f"falls from 33.900 kΩ at 0 °C to {warm / 1e3:.4f} kΩ at 60 °C" in alone.html
    banded = bench_sheet(BETA, family=AIR, date=DATE)
    assert banded.html.count("<svg ") == 2
    assert 'id="convert"' in alone.html


def test_names_stand_in_pictures_as_they_are() -> None:
    name = 'fan style="fill:red" 2'
    sheet = bench_sheet(BETA.replace(id=name), date=DATE)
    pictures = "".join(re.findall(r"<svg.*?</svg>", sheet.html, flags=re.DOTALL))
    assert name in pictures
    assert " style=" not in pictures.replace(name, "")


def test_half_a_character_in_a_name_stops_no_picture() -> None:
    name = "inlet \ud800"
    curve = BETA.replace(id=name)
    fitted = tf.fit(POINTS, equation="beta")
    sheet = bench_sheet(
        fitted.replace(curve=fitted.curve.replace(id=name)), family=tf.Family(curve, 2.0, 1.0),
        date=DATE,
    )  # fmt: skip
    assert sheet.html.count("<svg ") == 4
    assert "\ud800" not in sheet.html
    assert sheet.record.title == name


def test_platinum_rises() -> None:
    sheet = bench_sheet(tf.Curve.callendar_van_dusen(r0_ohm=100.0), date=DATE)
    # 100 Ω at 0 °C; 18.52 Ω and 390.48 Ω at the ends of its range: IEC 60751, table 1.
    assert "rises from 18.520 Ω at −200 °C to 390.48 Ω at 850 °C" in sheet.html
    assert "B25/85" not in text_of(sheet)


def test_one_reading_is_enough_for_a_sheet() -> None:
    one = readings()[:1]
    sheet = bench_sheet(
        tf.characterise(one), readings=one, family=tf.family("ntc-10k-3977"), date=DATE
    )
    assert sheet.record.verdict is not None
    assert sheet.record.verdict["cause"] == "one temperature only"
    assert "1 reading at 0 °C" in sheet.html


def test_what_cannot_be_judged_says_so() -> None:
    bare = tf.Points([0, 30, 60], [33900, 8030, 2460])
    assert "no verdict: the readings state no uncertainties" in text_of(
        bench_sheet(BETA, points=bare, family=AIR, date=DATE, pictures=False)
    )
    nominal = tf.Family(tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="air"))
    sheet = bench_sheet(BETA, points=POINTS, family=nominal, date=DATE, pictures=False)
    assert sheet.record.verdict is None
    assert "no verdict: the family states no tolerance" in text_of(sheet)


def test_warnings_of_the_fit_stand_on_the_sheet() -> None:
    off = tf.Points([0, 25, 50, 70], [32640, 10020, 3900, 1741], u_t_k=0.02, u_r_ohm=[9, 5, 2, 1])
    fitted = tf.fit(off, equation="steinhart-hart")
    assert fitted.warnings
    told = text_of(bench_sheet(fitted, date=DATE, pictures=False))
    assert "What is doubtful" in told


def test_the_same_values_make_the_same_page() -> None:
    made = [
        bench_sheet(tf.fit(POINTS, equation="beta"), family=AIR, date=DATE).html for _ in range(2)
    ]
    assert made[0] == made[1]
    other = bench_sheet(
        tf.fit(POINTS, equation="beta"), family=AIR, date=datetime.date(2026, 3, 22)
    )
    changed = [
        a for a, b in zip(made[0].split("\n"), other.html.split("\n"), strict=True) if a != b
    ]
    assert all("2026-03-21" in line or "checksum" in line or "sum" in line for line in changed)


def test_a_sheet_is_small() -> None:
    assert len(characterised().html.encode()) < 300_000
    assert repr(characterised()) == f"<Sheet 'House 3, inlet', {_kilo(characterised())} kB>"


def _kilo(sheet: Sheet) -> str:
    return f"{len(sheet.html.encode()) / 1000:.0f}"


def test_the_policy_lets_nothing_in_but_what_is_hashed() -> None:
    html = characterised().html
    policy = re.findall(r'http-equiv="Content-Security-Policy" content="([^"]*)"', html)
    assert len(policy) == 1
    rules = dict(rule.strip().split(" ", 1) for rule in policy[0].replace("&#39;", "'").split(";"))
    assert rules["default-src"] == rules["base-uri"] == rules["form-action"] == "'none'"
    assert rules["img-src"] == "data:"
    for name, tag in (("style-src", "style"), ("script-src", "script")):
        inside = re.findall(rf"<{tag}>(.*?)</{tag}>", html, flags=re.DOTALL)
        assert len(inside) == 1
        digest = base64.b64encode(hashlib.sha256(inside[0].encode()).digest()).decode()
        assert rules[name] == f"'sha256-{digest}'"
    head = html[: html.index("<style>")]
    assert head.index("Content-Security-Policy") < head.index("<link")
    assert " style=" not in html
    assert not re.search(r"\son\w+=", re.sub(r"<script.*?</script>", "", html, flags=re.DOTALL))
    addresses = set(re.findall(r"https?://[^\"'<> ]+", html))
    assert addresses <= {"http://www.w3.org/2000/svg"}


# -- the page's own conversion ----------------------------------------------------------


def test_student_factors_are_exact_between_their_places() -> None:
    from thermofit.interval import coverage_factor

    for dof in (1.0, 3.0, 40.0):
        curve = BETA.replace(covariance=[[1.0, 0.0], [0.0, 1.0]], dof=dof)
        data = converter_data(curve, 0.99)
        assert data is not None
        at, value = np.array(data["shares"]), np.array(data["ln_factors"])
        weight = (-1.0) ** np.arange(at.size)
        weight[[0, -1]] *= 0.5
        for share in np.linspace(0.003, 0.997, 90):
            part = weight / (share - at)
            mine = np.exp(part @ value / part.sum())
            assert mine == pytest.approx(coverage_factor(0.99, dof / share), rel=1e-9)


def test_an_equation_of_a_plugin_has_a_table_but_no_conversion() -> None:
    from thermofit.equations import Beta

    class Mine(Beta):
        @property
        def name(self) -> str:
            return "mine"

    sheet = stored(tf.Curve(Mine(), [10e3, 3977.0], 0, 60))
    assert 'id="convert"' not in sheet.html
    assert "#convert" not in sheet.html.partition("<script")[0].partition("<body>")[2]
    assert len(wall(sheet)[1]) == 61


# -- making and saving ------------------------------------------------------------------


def test_what_does_not_go_together_is_refused() -> None:
    fitted = tf.fit(POINTS, equation="beta")
    with pytest.raises(InputError, match="of a Fit or of a Curve, not of Points"):
        bench_sheet(POINTS)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="not those of the fit"):
        bench_sheet(fitted, points=tf.Points([0], [32600]))
    with pytest.raises(InputError, match="not those that the curve was made of"):
        bench_sheet(fitted, readings=readings())
    with pytest.raises(InputError, match="the verdict is of air, and the family is ntc-10k-3977"):
        bench_sheet(fitted, verdict=tf.check(POINTS, AIR), family=tf.family("ntc-10k-3977"))
    with pytest.raises(InputError, match="must be a Verdict, not str"):
        bench_sheet(fitted, verdict="accept")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="coverage"):
        bench_sheet(fitted, coverage=95)


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"title": 5}, "title of a sheet is text, not 5"),
        ({"date": "2026-03-21"}, "date of a sheet is a datetime.date"),
        ({"made_with": {"meter": METER}}, "made_with of a sheet holds texts by name"),
        ({"made_with": {5: "meter"}}, "made_with of a sheet holds texts by name"),
        ({"made_with": "meter"}, "made_with of a sheet holds texts by name"),
        ({"assumed": "the bath is uniform"}, "assumed of a sheet is a list of texts"),
        ({"remarks": [5]}, "remarks of a sheet is a list of texts"),
        ({"points": [1, 2]}, "points must be Points, not list"),
        ({"tolerance": "1 %"}, "tolerance must be Tolerance, not str"),
        ({"readings": [1]}, "each of readings must be Reading, not int"),
    ],
)
def test_what_could_not_be_read_back_is_not_written(wrong: dict[str, Any], told: str) -> None:
    with pytest.raises(InputError, match=told):
        bench_sheet(BETA, pictures=False, **wrong)


def test_a_moment_is_of_its_day() -> None:
    sheet = bench_sheet(BETA, date=datetime.datetime(2026, 3, 21, 17, 5), pictures=False)
    assert sheet.record.date == DATE
    assert sheet.html == bench_sheet(BETA, date=DATE, pictures=False).html


def test_texts_of_arrays_are_texts(tmp_path: Path) -> None:
    sheet = bench_sheet(BETA, made_with={"meter": np.str_("a\ud800\u202e")}, pictures=False)
    sheet.save(tmp_path / "sheet.html")
    assert "a��" in sheet.html


def test_points_may_be_those_of_the_fit_said_again() -> None:
    fitted = tf.fit(POINTS, equation="beta")
    assert bench_sheet(fitted, points=POINTS, date=DATE, pictures=False).record.points == POINTS


def test_a_sheet_needs_a_title_of_some_kind() -> None:
    assert stored(BETA).record.title == "inlet"
    assert stored(BETA, title="  fan 2 ").record.title == "fan 2"
    assert stored(BETA.replace(id="")).record.title == "Temperature sensor"
    assert bench_sheet(BETA, pictures=False).record.date == datetime.date.today()


def test_a_file_that_is_there_stays_unless_told(tmp_path: Path) -> None:
    path = tmp_path / "sheet.html"
    sheet = stored(BETA)
    sheet.save(path)
    with pytest.raises(StorageError, match="there is such a file"):
        stored(BETA, title="other").save(path)
    assert path.read_text(encoding="utf-8") == sheet.html
    stored(BETA, title="other").save(path, replace=True)
    assert "other" in path.read_text(encoding="utf-8")
    assert [each.name for each in tmp_path.iterdir()] == ["sheet.html"]
    with pytest.raises(StorageError, match="create it first"):
        sheet.save(tmp_path / "nowhere" / "sheet.html")


@pytest.mark.parametrize("missing", ["jinja2", "matplotlib"])
def test_a_missing_extra_is_named(missing: str, monkeypatch: pytest.MonkeyPatch) -> None:
    import importlib.util

    found = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name, *rest: None if name == missing else found(name)
    )
    with pytest.raises(ThermofitError, match=rf'needs {missing}.*pip install "thermofit\[sheet\]"'):
        bench_sheet(BETA)
    if missing == "matplotlib":
        assert bench_sheet(BETA, pictures=False, date=DATE).html


def test_values_cannot_be_changed() -> None:
    sheet = characterised()
    with pytest.raises(dataclasses.FrozenInstanceError):
        sheet.html = ""  # type: ignore[misc]
    with pytest.raises(TypeError):
        sheet.record.made_with["meter"] = "better"  # type: ignore[index]


def test_nothing_heavy_is_imported_before_a_sheet_is_made() -> None:
    heavy = {*HEAVY, "jinja2"}
    assert not loaded_after("import thermofit.report.sheet") & heavy

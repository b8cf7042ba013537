"""Bench sheets in a real browser: what is seen, printed and converted."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import thermofit as tf
from tests.sheets import DATE, characterised, stored
from tests.test_equations import EXAMPLES
from thermofit.equations import Equation, Tabulated
from thermofit.report.sheet import Sheet, bench_sheet

pytest.importorskip("jinja2")
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
if CHROMIUM is None:
    pytest.skip("there is no chromium; Debian's package chromium has it", allow_module_level=True)
if not os.environ.get("CI"):
    # Where changes are checked, a missing driver must not pass in silence.
    pytest.importorskip("playwright", reason="playwright drives the browser: thermofit[test]")

from playwright.sync_api import Browser, Page, sync_playwright  # noqa: E402

HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror="alert(1)">',
    "</script></style></title><script>alert(1)</script>",
    "<!-- <script> --> &lt;b&gt; {{ 7 * 7 }} {% raw %}",
    "\u202egnp.exe\u202c",
    "a very long name " * 40,
    "X" * 400,
)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield running
        running.close()


@pytest.fixture(scope="module")
def window(browser: Browser) -> Page:
    return browser.new_page()


@pytest.fixture(scope="module")
def scriptless(browser: Browser) -> Page:
    return browser.new_page(java_script_enabled=False)


Open = Callable[..., Any]


@contextmanager
def open_in(page: Page, path: Path, sheet: Sheet, width: int, height: int = 900) -> Iterator[Page]:
    """Open a sheet; whatever it complains of, asks for or pops up fails the test."""
    sheet.save(path, replace=True)
    complaints: list[str] = []
    heard: dict[Any, Callable[[Any], None]] = {
        "console": lambda message: complaints.append(f"console: {message.text}"),
        "pageerror": lambda error: complaints.append(f"error: {error}"),
        "dialog": lambda dialog: complaints.append(f"dialog: {dialog.message}"),
        "request": lambda request: complaints.append(f"request: {request.url}"),
    }
    for event, listen in heard.items():
        page.on(event, listen)
    page.set_viewport_size({"width": width, "height": height})
    page.emulate_media(media="null")
    page.goto(path.as_uri())
    yield page
    for event, listen in heard.items():
        page.remove_listener(event, listen)
    assert complaints == [f"request: {path.as_uri()}"]


@pytest.fixture
def opened(window: Page, tmp_path: Path) -> Open:
    """Open a sheet in a window of some width."""
    return lambda sheet, width=1100: open_in(window, tmp_path / "sheet.html", sheet, width)


# -- conversion -------------------------------------------------------------------------


def covariance_of(form: Equation, numbers: list[float], t_range_c: tuple[float, float]) -> Any:
    """What as many readings as coefficients, and two more, known to 0.2 % would give."""
    if not numbers:
        return None
    curve = tf.Curve(form, numbers, *t_range_c)
    t_c = np.linspace(*t_range_c, len(numbers) + 2)
    ln_r, inv_t = np.log(curve.resistance(t_c)), 1.0 / (t_c + 273.15)
    x = ln_r if form.explicit == "temperature" else inv_t
    c = np.array(numbers)
    design = form.gradient(x, c).T / 2e-3
    if form.explicit == "temperature":
        design /= form.slope(x, c)[:, np.newaxis]
    size = np.linalg.norm(design, axis=0)
    inverse = np.linalg.inv((design / size).T @ (design / size)) / np.outer(size, size)
    return inverse * np.outer(form.fitted_scale(c), form.fitted_scale(c))


def converted(page: Page, r_ohm: np.ndarray, percent: str) -> np.ndarray:
    """Type each resistance; temperature and the ends of the interval in °C, shape (n, 3)."""
    found = page.evaluate(
        """([ohms, percent]) => {
          const field = document.getElementById("ohm");
          const answer = document.getElementById("answer");
          document.getElementById("percent").value = percent;
          return ohms.map((ohm) => {
            field.value = String(ohm);
            field.dispatchEvent(new Event("input"));
            const { tC, lowC, highC } = answer.dataset;
            return [tC ?? answer.textContent, lowC, highC];
          });
        }""",
        [r_ohm.tolist(), percent],
    )
    return np.array(found, dtype=float)


@pytest.mark.parametrize(
    ("form", "numbers", "t_range_c"), EXAMPLES, ids=[case[0].name for case in EXAMPLES]
)
def test_the_page_converts_as_the_library_does(
    opened: Open, form: Equation, numbers: list[float], t_range_c: tuple[float, float]
) -> None:
    # Few degrees of freedom make Student's factor differ most from reading to reading.
    covariance = covariance_of(form, numbers, t_range_c)
    curve = tf.Curve(form, numbers, *t_range_c, covariance=covariance, dof=2.0)
    low_c, high_c = t_range_c
    t_c = np.array([low_c - 9e-7, *np.linspace(low_c, high_c, 201), high_c + 9e-7])
    # A table has no value at all beyond its nodes.
    r_ohm = curve.resistance(t_c[1:-1] if isinstance(form, Tabulated) else t_c)
    with opened(stored(curve)) as page:
        for percent in ("", "0.5", "0"):
            u_r_ohm = None if percent == "" else r_ohm * float(percent) / 100.0
            theirs = curve.temperature_interval(r_ohm, u_r_ohm)
            assert covariance is None or np.isfinite(theirs.low).all()
            mine = converted(page, r_ohm, percent)
            np.testing.assert_allclose(mine[:, 0], theirs.value, rtol=0.0, atol=1e-6)
            np.testing.assert_allclose(mine[:, 1], theirs.low, rtol=0.0, atol=1e-6)
            np.testing.assert_allclose(mine[:, 2], theirs.high, rtol=0.0, atol=1e-6)


def test_a_characterised_sensor_converts_as_the_library_does(opened: Open) -> None:
    sheet = characterised(pictures=False)
    curve = sheet.record.curve
    r_ohm = curve.resistance(np.linspace(curve.t_min_c, curve.t_max_c, 300))
    with opened(sheet) as page:
        mine = converted(page, r_ohm, "0,3")
    theirs = curve.temperature_interval(r_ohm, 0.003 * r_ohm)
    np.testing.assert_allclose(mine[:, 0], theirs.value, rtol=0.0, atol=1e-6)
    np.testing.assert_allclose(mine[:, 1:].T, [theirs.low, theirs.high], rtol=0.0, atol=1e-6)


def answer(page: Page, ohm: str, percent: str = "") -> str:
    page.fill("#percent", percent)
    page.fill("#ohm", ohm)
    return page.inner_text("#answer")


def test_resistances_are_read_as_on_the_command_line(opened: Open) -> None:
    with opened(stored(tf.Curve.beta(r25_ohm=4700.0, b_k=3977))) as page:
        for typed in ("4.7k", "4k7", "4700", "4,7k", "4.7 kΩ", "4700 ohm", "4.7e3", "4700R",
                      "0.0047M", "  4.7\u00a0K ", "4.7 kOhm", "4700 \u2126"):  # fmt: skip
            assert answer(page, typed).startswith("25.000 °C (77.000 °F)\n"), typed
            assert page.get_attribute("#ohm", "aria-invalid") is None
        for typed, told in {
            "4,700": "may mean 4.700 or 4700",
            "warm": "warm is no resistance",
            "4.7 kg": "is no resistance",
            "4.7.": "is no resistance",
            "4..": "is no resistance",
            "4constructor": "is no resistance",
            "4.7m": "is no resistance",
            "0": "above zero",
            "-4k7": "above zero",
            "1e999": "above zero and finite",
            "<b>4k7</b>": "<b>4k7</b> is no resistance",
        }.items():
            assert told in answer(page, typed), typed
            assert page.get_attribute("#ohm", "aria-invalid") == "true"
            assert page.get_attribute("#answer", "data-t-c") is None
        assert "is no uncertainty in percent" in answer(page, "4k7", "some")
        assert page.get_attribute("#percent", "aria-invalid") == "true"
        assert "is no uncertainty in percent" in answer(page, "4k7", "-1")
        assert answer(page, "") == ""


def test_outside_its_range_the_page_gives_no_temperature(opened: Open) -> None:
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977)
    with opened(stored(curve)) as page:
        told = "is outside the curve's valid range of -40 to 125 °C (assumed, none was stated)"
        assert answer(page, "10R") == f"10R {told}"
        assert answer(page, "1M") == f"1M {told}"
        with pytest.warns(tf.ThermofitWarning, match=re.escape(told)):
            curve.temperature(10.0)


def test_an_answer_says_what_it_speaks_of(opened: Open) -> None:
    known = tf.Curve.beta(r25_ohm=10e3, b_k=3977, covariance=[[100.0, 0.0], [0.0, 25.0]])
    with opened(stored(known)) as page:
        assert answer(page, "10k") == (
            "25.000 °C (77.000 °F)\n"
            "95 % between 24.956 and 25.044 °C: of the curve only, not of the reading"
        )
        assert "of the curve and of the reading" in answer(page, "10k", "0.5%")
        assert answer(page, "100k").startswith("−18.")
    with opened(stored(tf.Curve.beta(r25_ohm=10e3, b_k=3977))) as page:
        assert "uncertainty unknown: the curve has no covariance" in answer(page, "10k", "0.5")


# -- reading, printing ------------------------------------------------------------------


def test_without_scripts_all_is_there_but_the_conversion(
    opened: Open, scriptless: Page, tmp_path: Path
) -> None:
    sheet = characterised()
    with open_in(scriptless, tmp_path / "still.html", sheet, 1100) as page:
        told = page.inner_text("main")
        assert not page.is_visible("#convert")
        assert not page.is_visible("nav a[href='#convert']")
        for text in ("Verdict: cannot tell", "32.600 kΩ", "60", "Cautions", "0.8%+3",
                     "the leads are 12 m long", sheet.record.versions["numpy"]):  # fmt: skip
            assert text in told
        assert page.locator("svg[role=img]").count() == 4
    with opened(sheet) as page:
        assert page.is_visible("#convert")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints_on_either_paper(opened: Open, paper: str) -> None:
    # What is left of 210 mm or 8.5 in between margins of 13 mm, in pixels of 1/96 in.
    width = {"A4": 184.0, "Letter": 190.0}[paper] / 25.4 * 96.0
    sheet = characterised()
    with opened(sheet, width=int(width)) as page:
        printed = page.pdf(format=paper, prefer_css_page_size=True)
        page.emulate_media(media="print")
        assert not page.is_visible("#convert")
        assert not page.is_visible("nav")
        cut = page.evaluate(
            """() => [...document.querySelectorAll("body *")].filter((e) => !e.closest("svg")
              && e.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5
            ).map((e) => e.outerHTML.slice(0, 80))"""
        )
        assert cut == []
        # The table stands by itself: its heading, and all 61 rows, within one page.
        height = page.evaluate("document.getElementById('table').getBoundingClientRect().height")
    assert height / 96.0 * 25.4 < {"A4": 297.0, "Letter": 279.4}[paper] - 26.0
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) <= 6


def test_a_narrow_screen_needs_no_sideways_scrolling(opened: Open) -> None:
    with opened(characterised(), width=320) as page:
        # Nor has the table for the wall, within its frame.
        for place in ("html", ".blocks"):
            wider = f"((e) => e.scrollWidth - e.clientWidth)(document.querySelector('{place}'))"
            assert page.evaluate(wider) <= 0, place
        # Words that stand far to the right do not make rows of many lines.
        tallest = (
            "Math.max(...[...document.querySelectorAll('.scroll tr')].map((e) => e.offsetHeight))"
        )
        assert page.evaluate(tallest) < 110


@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_names_are_text_and_nothing_else(opened: Open, name: str) -> None:
    curve = tf.Curve.beta(
        r25_ohm=10e3, b_k=3977, id=name, source=name, licence=name, note=name,
        t_range_c=(0, 60),
    ).replace(extra={name: name})  # fmt: skip
    points = tf.Points([0, 50], [33900, 3560], u_t_k=0.1, u_r_ohm=9, source=name, notes=[name])
    sheet = bench_sheet(
        curve, title=name, points=points, date=DATE, pictures=False,
        family=tf.Family(tf.Curve.beta(r25_ohm=10e3, b_k=3977, id=name), 1.0, 1.0),
        made_with={name: name}, assumed=[name], remarks=[name],
    )  # fmt: skip
    with opened(sheet, width=360) as page:
        shown = "".join("\ufffd" if mark in "\u202e\u202c" else mark for mark in name.strip())
        assert page.inner_text("h1") == " ".join(shown.split())
        assert page.locator("script").count() == 2
        assert page.locator("img").count() == 0
        assert answer(page, "10k").startswith("25.000 °C")
        width = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        assert page.evaluate(width) <= 0


# -- for everybody ----------------------------------------------------------------------


def test_the_keyboard_reaches_the_conversion(opened: Open) -> None:
    with opened(characterised()) as page:
        reached = []
        for _ in range(12):
            page.keyboard.press("Tab")
            reached.append(
                page.evaluate("document.activeElement.id || document.activeElement.tagName")
            )
            if reached[-1] == "ohm":
                break
        assert reached[-1] == "ohm"
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineWidth")
        assert float(outline.removesuffix("px")) >= 2.0
        page.keyboard.type("10k")
        assert "°C" in page.inner_text("#answer")
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.id") == "percent"


def test_structure_is_there_for_those_who_hear_it(opened: Open) -> None:
    with opened(characterised()) as page:
        assert page.get_attribute("html", "lang") == "en"
        levels = page.evaluate(
            "[...document.querySelectorAll('h1,h2,h3,h4')].map((e) => Number(e.tagName[1]))"
        )
        assert levels[0] == 1
        assert levels.count(1) == 1
        assert max(np.diff(levels)) <= 1
        assert page.locator("table").count() == page.locator("table > caption").count() > 8
        assert page.locator("th:not([scope])").count() == 0
        for field in page.locator("input").all():
            assert page.locator(f"label[for='{field.get_attribute('id')}']").count() == 1
        assert page.get_attribute("#answer", "aria-live") == "polite"
        ids = page.evaluate("[...document.querySelectorAll('[id]')].map((e) => e.id)")
        assert len(ids) == len(set(ids))
        for svg in page.locator("svg").all():
            title, words = (svg.get_attribute("aria-labelledby") or "").split()
            assert page.locator(f"#{title}").text_content()
            assert re.search(r"\d", page.locator(f"#{words}").text_content() or "")
        for link in page.locator("nav a").all():
            assert (link.get_attribute("href") or "")[1:] in ids


def test_text_stands_out_from_its_ground(opened: Open) -> None:
    # WCAG 2.2, 1.4.3: a ratio of luminances of 4.5; relative luminance as defined there.
    def luminance(colour: str) -> float:
        rgb = np.array([float(part) for part in re.findall(r"[\d.]+", colour)[:3]]) / 255.0
        linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
        return float(linear @ [0.2126, 0.7152, 0.0722])

    with opened(characterised()) as page:
        pairs = page.evaluate(
            """() => [...document.querySelectorAll("body *")].filter((e) => !e.closest("svg")
              && [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim())
            ).map((e) => {
              let ground = e;
              const clear = "rgba(0, 0, 0, 0)";
              while (ground && getComputedStyle(ground).backgroundColor === clear) {
                ground = ground.parentElement;
              }
              return [getComputedStyle(e).color, getComputedStyle(ground).backgroundColor];
            })"""
        )
    assert len(pairs) > 300
    for colours in {tuple(pair) for pair in pairs}:
        dark, light = sorted(map(luminance, colours))
        assert (light + 0.05) / (dark + 0.05) >= 4.5, colours

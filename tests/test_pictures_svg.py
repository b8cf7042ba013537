"""Pictures as SVG inside a page: alone, described, the same each time, safe with any name."""

from __future__ import annotations

import re
import subprocess
import sys
import xml.etree.ElementTree as ET

import pytest

import thermofit as tf
from tests.pictures import AIR, drawn, inlet_fit, readings
from thermofit.errors import InputError
from thermofit.report import curve_picture, plane_picture, svg_of

pytest.importorskip("matplotlib")

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "</title><script>alert(1)</script>&\"'<img src=x onerror=y>"


@pytest.fixture(scope="module", params=["curve-two-baths", "plane-many", "divider-coarse-output"])
def text(request: pytest.FixtureRequest) -> str:
    return svg_of(drawn(request.param), title="Curve", description="What it shows")


def ids_of(text: str) -> list[str]:
    return re.findall(r' id="([^"]*)"', text)


def test_it_is_one_element_with_a_title_and_a_description(text: str) -> None:
    root = ET.fromstring(text)
    assert root.tag == SVG + "svg" and root.attrib["role"] == "img"
    title, desc = list(root)[:2]
    assert (title.tag, title.text) == (SVG + "title", "Curve")
    assert (desc.tag, desc.text) == (SVG + "desc", "What it shows")
    assert root.attrib["aria-labelledby"] == f"{title.attrib['id']} {desc.attrib['id']}"
    assert root.attrib["viewBox"].startswith("0 0 504 ")
    assert not {"width", "height"} & set(root.attrib)


def test_nothing_comes_from_outside_and_nothing_leaks_out(text: str) -> None:
    assert set(re.findall(r"\w+:[^\s\"']*//[^\s\"']+", text)) <= {"http://www.w3.org/2000/svg"}
    for foreign in (
        "<?",
        "<!",
        "<script",
        "<style",
        "style=",
        "<image",
        "metadata",
        "xlink",
        "@import",
    ):
        assert foreign not in text
    assert not re.search(r"20\d\d-\d\d", text)
    assert len(text.encode()) < 60_000


def test_every_reference_is_to_something_in_it(text: str) -> None:
    ids = ids_of(text)
    assert len(ids) == len(set(ids)) > 2
    used = set(re.findall(r'url\(#([^)]+)\)| href="#([^"]+)"', text))
    assert {one or other for one, other in used} <= set(ids)


def test_words_stay_words() -> None:
    text = svg_of(curve_picture(inlet_fit()), title="t", description="d")
    words = [element.text for element in ET.fromstring(text).iter(SVG + "text")]
    assert {"temperature / °C", "resistance / kΩ", "Steinhart–Hart"} <= set(words)
    root = ET.fromstring(text)
    assert {words.attrib["font-size"] for words in root.iter(SVG + "text")} == {
        "9px", "10px", "11px",
    }  # fmt: skip
    assert root.attrib["font-family"].startswith("'DejaVu Sans', Verdana")


def test_the_same_picture_gives_the_same_text_in_another_process() -> None:
    code = (
        "from tests.pictures import drawn; from thermofit.report import svg_of;"
        "print(svg_of(drawn('plane-accept'), title='a', description='b'), end='')"
    )
    there = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, check=True, text=True, encoding="utf-8",
    ).stdout  # fmt: skip
    assert there == svg_of(drawn("plane-accept"), title="a", description="b")


def test_two_pictures_in_one_page_share_no_ids() -> None:
    verdicts = (tf.check(readings(gamma, 0.0), AIR) for gamma in (0.0, 0.001))
    one, other = (
        ids_of(svg_of(plane_picture(verdict), title="t", description="d")) for verdict in verdicts
    )
    assert not set(one) & set(other)
    # The same lines told otherwise count as another picture.
    ax = plane_picture(tf.check(readings(0.0, 0.0), AIR))
    told = [ids_of(svg_of(ax, title=words, description="d")) for words in ("first", "second")]
    assert not set(told[0]) & set(told[1])


def test_drawing_twice_leaves_the_picture_as_it_is() -> None:
    ax = drawn("curve-inlet")
    assert svg_of(ax, title="t", description="d") == svg_of(ax, title="t", description="d")


def test_a_users_own_settings_do_not_matter() -> None:
    import matplotlib as mpl

    ax = drawn("plane-accept")
    text = svg_of(ax, title="t", description="d")
    with mpl.rc_context({"svg.fonttype": "path", "svg.hashsalt": "x", "font.family": ["serif"]}):
        assert svg_of(ax, title="t", description="d") == text


def test_hostile_names_are_only_words() -> None:
    curve = AIR.curve.replace(id=HOSTILE)
    text = svg_of(curve_picture(curve), title=HOSTILE, description=HOSTILE)
    root = ET.fromstring(text)
    assert "<script" not in text and "<img" not in text
    assert [element.text for element in list(root)[:2]] == [HOSTILE, HOSTILE]
    assert {element.tag for element in root.iter()} <= {
        SVG + tag for tag in ("svg", "title", "desc", "defs", "g", "path", "use", "text", "tspan",
                              "clipPath", "rect", "pattern")
    }  # fmt: skip


def test_names_in_any_script_can_be_drawn() -> None:
    curve = AIR.curve.replace(id="温室 🌱 \x1b[31m $x_1$ \u202eback")
    text = svg_of(curve_picture(curve), title="\x00 _$", description="d\x08")
    words = [element.text for element in ET.fromstring(text).iter(SVG + "text")]
    assert any(word and word.startswith("温室 🌱") and "$x_1$" in word for word in words)
    assert "\x1b" not in text and "\x08" not in text and "\u202e" not in text


@pytest.mark.parametrize(("title", "description"), [("", "d"), ("t", " "), (None, "d")])
def test_a_picture_without_words_for_it_is_refused(title: str, description: str) -> None:
    with pytest.raises(InputError, match="text that says something"):
        svg_of(curve_picture(AIR.curve), title=title, description=description)

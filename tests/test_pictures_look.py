"""How pictures look: what is legible, what is in the way, what a change would alter."""

from __future__ import annotations

import itertools
import re
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tests.pictures import FOLDER, PICTURES, drawn, save_ink

pytest.importorskip("matplotlib")

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

UNIT = re.compile(r" / (°C|K|%|Ω|kΩ|MΩ|s|V|counts|\(K per count\))$")
# Nothing but another way of rounding the edges of lines; a mark that is missing makes more.
MOST_RMS = 0.5


@pytest.fixture(scope="module", params=PICTURES)
def picture(request: pytest.FixtureRequest) -> Axes:
    return drawn(request.param)


def words_of(figure: Figure) -> list[Text]:
    """Words that are seen: of ticks only those of numbers between the ends of their axis."""
    from matplotlib.text import Text

    hidden = set()
    for ax in [*figure.axes, *(child for parent in figure.axes for child in parent.child_axes)]:
        for axis in (ax.xaxis, ax.yaxis):
            low, high = sorted(axis.get_view_interval())
            slack = 1e-9 * (high - low)
            for tick in axis.get_major_ticks():
                if not low - slack <= tick.get_loc() <= high + slack:
                    hidden |= {tick.label1, tick.label2}
    return [
        text
        for text in figure.findobj(Text)
        if isinstance(text, Text)
        and text.get_text().strip()
        and text.get_visible()
        and text not in hidden
    ]


def root_of(ax: Axes) -> Figure:
    from matplotlib.figure import Figure

    figure = ax.figure.figure
    assert isinstance(figure, Figure)
    return figure


def test_letters_are_large_enough_and_none_are_cut_off(picture: Axes) -> None:
    figure = root_of(picture)
    assert figure.get_size_inches()[0] == 7.0
    page = figure.bbox
    for text in words_of(figure):
        box = text.get_window_extent()
        assert float(text.get_fontsize()) >= 8.0, text.get_text()
        assert page.x0 <= box.x0 and box.x1 <= page.x1, text.get_text()
        assert page.y0 <= box.y0 and box.y1 <= page.y1, text.get_text()


def test_no_words_lie_upon_others(picture: Axes) -> None:
    words = words_of(root_of(picture))
    assert len(words) > 10
    boxes = [(text.get_text(), text.get_window_extent().padded(-0.5)) for text in words]
    for (one, box), (other, its_box) in itertools.combinations(boxes, 2):
        assert not box.overlaps(its_box), (one, other)


def test_every_axis_has_its_unit(picture: Axes) -> None:
    assert UNIT.search(picture.get_xlabel())
    assert UNIT.search(picture.get_ylabel())
    assert all(UNIT.search(str(child.get_ylabel())) for child in picture.child_axes)


def test_lines_differ_in_more_than_colour(picture: Axes) -> None:
    legend = picture.get_legend()
    if legend is None:
        return
    looks = [
        (line._unscaled_dash_pattern, line.get_marker())  # type: ignore[attr-defined]
        for line in legend.get_lines()
        if line.get_linestyle() != "None" or line.get_marker() not in ("None", " ", "")
    ]
    assert len(set(map(str, looks))) == len(looks)


def test_numbers_beside_a_curve_do_not_touch_it(picture: Axes) -> None:
    labels = [text for text in picture.texts if text.get_text().startswith("±")]
    line = picture.lines[0]
    x, y = picture.transData.transform(np.asarray(line.get_xydata())).T
    for label in labels:
        box = label.get_window_extent()
        near = (x > box.x0) & (x < box.x1)
        assert (np.interp([box.x0, *x[near], box.x1], x, y) < box.y0).all(), label.get_text()


def test_the_ground_is_white_and_no_frame_is_in_the_way(picture: Axes) -> None:
    assert root_of(picture).get_facecolor() == (1.0, 1.0, 1.0, 1.0)
    assert not picture.spines["top"].get_visible()
    legend = picture.get_legend()
    assert legend is None or not legend.get_frame_on()
    # Below the axes: it hides nothing.
    assert legend is None or legend.get_window_extent().y1 <= picture.bbox.y0


@pytest.mark.parametrize("name", PICTURES)
def test_lines_are_drawn_as_they_were(name: str, tmp_path: Path) -> None:
    from matplotlib.testing.compare import compare_images

    save_ink(drawn(name, laid_out=False), tmp_path / f"{name}.png")
    differs = compare_images(
        str(FOLDER / f"{name}.png"), str(tmp_path / f"{name}.png"), tol=MOST_RMS
    )
    assert differs is None, f"{differs}\nif it is meant: python -m tests.pictures, and look"


def test_every_image_is_of_a_picture() -> None:
    assert {path.stem for path in FOLDER.glob("*.png")} == set(PICTURES)

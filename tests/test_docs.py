"""The pages: what they tell to type is typed, what they point to is there, and the site builds.

The examples with Python's prompt run as doctests, with the others of the suite.
"""

from __future__ import annotations

import importlib
import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from types import ModuleType
from urllib.parse import unquote, urlsplit

import pytest

import thermofit as tf
from tests.shelldocs import (
    AS_TYPED,
    Done,
    Session,
    Step,
    bench,
    complaints,
    difference,
    follow,
    in_process,
    newcomer,
    rewritten,
    steps_of,
)

ROOT = Path(tf.__file__).resolve().parents[1]
DOCS = ROOT / "docs"
README = ROOT / "README.md"

pytestmark = pytest.mark.skipif(not DOCS.is_dir(), reason="not run from a source tree")


def text_of(page: Path) -> str:
    text = page.read_text(encoding="utf-8")
    # The two commands that begin the README set up an environment and run this suite.
    return text[text.index("## On the command line") :] if page == README else text


PAGES = sorted(p for p in DOCS.rglob("*.md") if "_build" not in p.parts)
WITH_COMMANDS = [
    page for page in (README, *PAGES) if page.name not in AS_TYPED and any(steps_of(text_of(page)))
]


def name_of(page: Path) -> str:
    return page.relative_to(ROOT).as_posix()


# -- what a reader types ----------------------------------------------------------


@pytest.mark.parametrize("page", WITH_COMMANDS, ids=name_of)
def test_commands_print_what_the_page_shows(page: Path, tmp_path: Path) -> None:
    folder = bench(tmp_path)
    done = follow(text_of(page), in_process(folder), lambda: folder)
    assert complaints(name_of(page), done) == []


@pytest.fixture(scope="module")
def typed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, list[str]]]:
    """Follow "start here" and the plugin guide word by word in a fresh environment."""
    session = newcomer(tmp_path_factory.mktemp("newcomer"))
    found = {}
    for name in AS_TYPED:
        text = (DOCS / name).read_text(encoding="utf-8")
        found[name] = complaints(name, follow(text, session, lambda: session.folder))
    yield found
    session.close()


@pytest.mark.parametrize("name", AS_TYPED)
def test_a_newcomer_who_types_the_page_gets_what_it_shows(
    typed: dict[str, list[str]], name: str
) -> None:
    assert typed[name] == []


def test_every_python_block_is_run_or_is_a_file_that_a_command_uses() -> None:
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        files = {step.content for step in steps_of(text) if step.file}
        for block in re.findall(r"^```python\n(.*?)^```$", text, re.MULTILINE | re.DOTALL):
            assert ">>> " in block or block in files, f"{name_of(page)}: {block}"


# -- the comparison itself --------------------------------------------------------

SHOWN = "R25 = 10.095 kΩ ± 2.0 %\n  a2  1.2634e-06\ncounts 783\n"


def test_a_last_digit_may_differ_and_space_does_not_matter() -> None:
    assert difference(SHOWN, "R25 = 10.096 kΩ ± 2.0 %\n\n a2 1.2633e-06\ncounts   783\n") == ""


@pytest.mark.parametrize(
    "printed",
    [
        SHOWN.replace("10.095", "10.097"),
        SHOWN.replace("1.2634", "1.2636"),
        SHOWN.replace("e-06", "e-05"),
        SHOWN.replace("783", "784"),
        SHOWN.replace("783", "-783"),
        SHOWN.replace("kΩ", "Ω"),
        SHOWN.replace("counts 783\n", ""),
        SHOWN + "warning: outside\n",
        "warning: outside\n" + SHOWN,
        SHOWN.replace("  a2", "warning: outside\n  a2"),
    ],
)
def test_anything_else_that_differs_is_told(printed: str) -> None:
    assert difference(SHOWN, printed) != ""


def test_dots_stand_for_lines_and_for_the_rest_of_one() -> None:
    printed = "one 1\ntwo 2\nthree 3 and more\n"
    for shown in ("...\n", "one 1\n...\n", "...\ntwo 2\n...\n", "one ...\n...\nthree 3 ...\n"):
        assert difference(shown, printed) == ""
    for shown in ("one 1\n", "...\ntwo 2\n", "two 2\n...\n", "...\none 2\n...\n", "two ...\n...\n"):
        assert difference(shown, printed) != ""
    assert difference("one 1\n...\ntwo 2\n", "two 2\none 1\n") != ""


PAGE = """Save this as `points/two.csv`:

```text
t_c,r_ohm
```

```console
$ first \\
    --option
shown
$ false
error: shown
```

```sh
second
```
"""


def test_files_and_commands_are_found_in_their_order() -> None:
    assert list(steps_of(PAGE)) == [
        Step(4, file="points/two.csv", content="t_c,r_ohm\n"),
        Step(9, "first     --option", "shown\n"),
        Step(11, "false", "error: shown\n"),
        Step(16, "second"),
    ]


def test_a_command_fails_where_the_page_shows_an_error_and_nowhere_else(tmp_path: Path) -> None:
    def complained(status: int) -> list[str]:
        done = follow(PAGE, lambda command: Done("error: shown\n", status), lambda: tmp_path)
        return [text.split(": $ ")[1].split()[0] for text in complaints("page", done)]

    assert complained(1) == ["first", "second"]
    assert complained(0) == ["first", "false"]
    assert (tmp_path / "points" / "two.csv").read_text() == "t_c,r_ohm\n"


@pytest.mark.parametrize(
    "name", ["../points.csv", "/points.csv", "linked/points.csv", "linked.csv", "new/../../p.csv"]
)
def test_a_file_of_a_page_is_not_written_outside_its_folder(name: str, tmp_path: Path) -> None:
    own, other = tmp_path / "own", tmp_path / "other"
    own.mkdir()
    other.mkdir()
    (own / "linked").symlink_to(other)
    (own / "linked.csv").symlink_to(other / "points.csv")
    page = PAGE.replace("points/two.csv", name)
    with pytest.raises(ValueError, match=r"line 4: .* lies outside"):
        list(follow(page, lambda command: Done("", 0), lambda: own))
    assert list(other.iterdir()) == []
    assert sorted(path.name for path in tmp_path.iterdir()) == ["other", "own"]


def test_the_bench_has_copies_and_leads_nowhere_else(tmp_path: Path) -> None:
    folder = bench(tmp_path / "bench")
    assert all(path.resolve().is_relative_to(folder) for path in folder.rglob("*"))
    demo = folder / "docs" / "demo" / "bath-readings.csv"
    assert demo.read_text(encoding="utf-8") == (DOCS / "demo" / demo.name).read_text("utf-8")


def test_a_page_is_written_anew_with_what_is_printed(tmp_path: Path) -> None:
    printed = {"first     --option": "new\nand more  \n", "false": ""}
    done = follow(PAGE, lambda command: Done(printed.get(command, "x\n"), 0), lambda: tmp_path)
    anew = PAGE.replace("\nshown\n", "\nnew\nand more\n").replace("error: shown\n", "")
    assert rewritten(PAGE, done) == anew


def test_a_session_keeps_its_folder_and_tells_the_status(tmp_path: Path) -> None:
    session = Session(tmp_path, dict(os.environ))
    assert session("mkdir here; cd here") == Done("", 0)
    assert session.folder == tmp_path / "here"
    assert session("printf 'no end of line'; cat; false") == Done("no end of line", 1)
    assert session("echo oops >&2; (exit 3)") == Done("oops\n", 3)
    session.close()


# -- what the pages point to ------------------------------------------------------

TEXTS = (README, ROOT / "DEVELOPERS.md", *PAGES)


@pytest.mark.parametrize("page", TEXTS, ids=name_of)
def test_files_that_a_page_links_to_or_names_are_there(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#\s]+)", text):
        # Pictures are drawn when the site is built.
        if not urlsplit(target).scheme and "_static/made/" not in target:
            assert (page.parent / unquote(target)).exists(), target
    folders = r"`((?:docs|tests|curves|benchmarks|thermofit|\.ci)/[\w./-]*)`"
    for named in re.findall(folders, text):
        # The wheel has the curves beside the code; here they lie above it.
        assert (ROOT / named.replace("thermofit/curves", "curves")).exists(), named


@pytest.mark.parametrize("page", TEXTS, ids=name_of)
def test_words_for_a_picture_stand_in_one_line(page: Path) -> None:
    """Sphinx joins the lines without a space."""
    assert re.findall(r"!\[[^\]]*\n[^\]]*\]\(", page.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("page", TEXTS, ids=name_of)
def test_extras_that_a_page_tells_to_install_exist(page: Path) -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    named = re.findall(r"thermofit\[([\w,]+)\]['\"]", page.read_text(encoding="utf-8"))
    told = {extra for extras in named for extra in extras.split(",")}
    assert told <= set(project["optional-dependencies"])


@pytest.mark.parametrize("page", TEXTS, ids=name_of)
def test_addresses_on_the_net_are_well_formed(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    for address in re.findall(r"https?:[^\s)>`\"]*", text):
        parts = urlsplit(address)
        assert parts.scheme == "https", address
        assert re.fullmatch(r"[\w-]+(\.[\w-]+)+", parts.netloc), address
        assert not address.endswith((".", ",", ";")), address


# -- the site ---------------------------------------------------------------------


@dataclass
class Page(HTMLParser):
    """What a built page has and points to."""

    ids: set[str] = field(default_factory=set)
    links: list[str] = field(default_factory=list)
    loaded: list[str] = field(default_factory=list)
    without_alt: list[str] = field(default_factory=list)
    headings: int = 0
    language: str | None = None

    def __post_init__(self) -> None:
        super().__init__()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.headings += tag == "h1"
        if tag == "html":
            self.language = given.get("lang")
        if "id" in given:
            self.ids.add(given["id"])
        if tag == "a" and "href" in given:
            self.links.append(given["href"])
        if tag == "link" and "stylesheet" in given.get("rel", ""):
            self.loaded.append(given["href"])
        if "src" in given:
            self.loaded.append(given["src"])
        if tag == "img" and not given.get("alt", "").strip():
            self.without_alt.append(given.get("src", ""))


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the site from a copy of the pages; a warning fails."""
    pytest.importorskip("sphinx", reason="the extra 'docs' is not installed")
    folder = tmp_path_factory.mktemp("site")
    litter = shutil.ignore_patterns("_build", "made", "__pycache__")
    shutil.copytree(DOCS, folder / "docs", ignore=litter)
    environment = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(
        [sys.executable, "-m", "sphinx", "-W", "--keep-going", "-q", "-b", "html", "docs", "html"],
        cwd=folder, env=environment, text=True, encoding="utf-8", check=False,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout
    return folder / "html"


@pytest.fixture(scope="module")
def built(site: Path) -> dict[str, Page]:
    pages = {}
    for path in site.rglob("*.html"):
        page = Page()
        page.feed(path.read_text(encoding="utf-8"))
        pages[path.relative_to(site).as_posix()] = page
    return pages


def test_the_site_has_every_page(built: dict[str, Page]) -> None:
    written = {page.relative_to(DOCS).with_suffix(".html").as_posix() for page in PAGES}
    assert written <= built.keys()


def test_every_link_within_the_site_leads_somewhere(site: Path, built: dict[str, Page]) -> None:
    for name, page in built.items():
        for link in page.links:
            parts = urlsplit(link)
            if parts.scheme or parts.netloc:
                continue
            path = (site / name).parent / unquote(parts.path) if parts.path else site / name
            assert path.resolve().is_file(), f"{name}: {link}"
            target = built.get(path.resolve().relative_to(site.resolve()).as_posix())
            if parts.fragment and target is not None:
                assert unquote(parts.fragment) in target.ids, f"{name}: {link}"


def test_a_page_needs_no_network(site: Path, built: dict[str, Page]) -> None:
    loaded = {address for page in built.values() for address in page.loaded}
    assert [address for address in loaded if re.match(r"(https?:)?//", address)] == []
    for sheet in site.rglob("*.css"):
        assert not re.search(r"(@import|url\()\s*['\"]?(https?:)?//", sheet.read_text("utf-8"))


def test_every_page_has_a_language_one_heading_and_words_for_its_pictures(
    built: dict[str, Page],
) -> None:
    assert {name: page.language for name, page in built.items() if page.language != "en"} == {}
    own = {name: page for name, page in built.items() if not name.startswith("_")}
    several = {name: page.headings for name, page in own.items() if page.headings != 1}
    assert several.keys() <= {"search.html", "genindex.html", "py-modindex.html"}
    assert {name: page.without_alt for name, page in own.items() if page.without_alt} == {}


def test_commands_prompts_and_sentences_are_told_apart(site: Path) -> None:
    page = (site / "start-here.html").read_text(encoding="utf-8")
    command = '<span class="gp">$ </span><span class="gs">thermofit</span><span class="w"> </span>'
    assert command in page
    # The look breaks sentences and leaves tables as they are.
    assert '<span class="go go-Sentence">caution: Measure with both leads' in page
    assert '<span class="go">         R  t / °C' in page
    look = (site / "_static" / "thermofit.css").read_text(encoding="utf-8")
    assert re.search(r"\.w, \.highlight \.go-Sentence \{[^}]*white-space: pre-wrap", look)


def test_no_block_of_code_is_left_plain(site: Path) -> None:
    for path in site.rglob("*.html"):
        assert '<pre class="literal-block">' not in path.read_text(encoding="utf-8"), path.name


def _same(one: ModuleType, other: ModuleType, name: str) -> bool:
    return getattr(one, name, None) is getattr(other, name)


ROOMS = ("", ".circuit", ".thermal", ".report", ".testing", ".errors")


@pytest.mark.parametrize("room", ROOMS, ids=lambda room: f"thermofit{room}")
def test_the_reference_has_every_public_name(built: dict[str, Page], room: str) -> None:
    described = set().union(*(page.ids for page in built.values()))
    module = importlib.import_module(f"thermofit{room}")
    # Errors are described where all of them are, what the package hands on by its short name.
    missing = [
        name
        for name in module.__all__
        if f"thermofit{room}.{name}" not in described
        and not (_same(tf.errors, module, name) and f"thermofit.errors.{name}" in described)
        and not (_same(tf, module, name) and f"thermofit.{name}" in described)
    ]
    assert missing == [], "add them to a page in docs/api"

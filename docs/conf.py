"""Settings of the documentation site: pages in Markdown, the reference from the docstrings."""

from __future__ import annotations

from importlib import import_module
from inspect import isclass, isroutine
from pathlib import Path
from runpy import run_path
from typing import TYPE_CHECKING, Any, ClassVar

import thermofit

if TYPE_CHECKING:
    from docutils import nodes
    from sphinx.application import Sphinx

# The package comes last: a class that it hands on is described under its short name.
ROOMS = [
    *(f"thermofit.{room}" for room in ("budget", "instruments", "baths", "tolerance", "estimate")),
    *(f"thermofit.{room}" for room in ("families", "decide", "circuit", "thermal", "equations")),
    "thermofit",
    "thermofit.errors",
]

project = "thermofit"
author = "The thermofit developers"
copyright = "the thermofit developers, MIT licence"
version = release = thermofit.__version__
language = "en"

extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.autosummary", "numpydoc"]
source_suffix = {".md": "markdown", ".rst": "restructuredtext"}
exclude_patterns = ["_build", "demo"]

# The pages are read in the plain repository too, so their Markdown stays almost plain.
myst_heading_anchors = 3

smartquotes = False  # what stands in quotation marks may have to be typed

# In a docstring a name in single backticks is a link where it can be one.
default_role = "py:obj"
nitpicky = True
nitpick_ignore_regex = [(r"py:obj", r".*")]

# numpydoc's sections tell types and units; annotations would repeat them in the signature.
autodoc_typehints = "none"
autodoc_member_order = "groupwise"
autosummary_generate = False
numpydoc_show_class_members = False
numpydoc_xref_param_type = True
numpydoc_xref_ignore = "all"

html_theme = "furo"
html_title = f"thermofit {release}"
html_static_path = ["_static"]
html_css_files = ["thermofit.css"]
html_copy_source = False
html_show_sphinx = False
# Code stands out from the page in both schemes.
html_theme_options = {
    "light_css_variables": {"color-code-background": "#f3f5f7"},
    "dark_css_variables": {"color-code-background": "#22272e"},
}
pygments_style = "a11y-high-contrast-light"
pygments_dark_style = "a11y-high-contrast-dark"


def setup(app: Sphinx) -> None:
    """Have pictures drawn, link types, add the directive ``names`` and the look of a terminal."""
    from docutils.statemachine import StringList
    from numpydoc.xref import DEFAULT_LINKS
    from pygments.lexer import RegexLexer
    from pygments.lexers.special import TextLexer
    from pygments.token import Generic, Whitespace
    from sphinx.util.docutils import SphinxDirective

    class Terminal(RegexLexer):
        # The usual one takes each line in brackets for a prompt.
        name = "Terminal"
        tokens: ClassVar = {
            "root": [
                (r"^\$ ", Generic.Prompt, "command"),
                # Sentences, which may be broken; in a table words are further apart.
                (r"^\S+(?: \S+)*\n", Generic.Output.Sentence),
                (r".*\n", Generic.Output),
            ],
            # Word by word, since a line may be broken between them and not at the hyphens in them.
            "command": [
                (r"\\\n", Generic.Strong),
                (r"\n", Whitespace, "#pop"),
                (r"[ \t]+", Whitespace),
                (r"\\|[^\s\\]+", Generic.Strong),
            ],
        }

    class Names(SphinxDirective):
        # A table of some public names, and then their docstrings.
        required_arguments = 1
        has_content = True

        def run(self) -> list[nodes.Node]:
            module = self.arguments[0]
            names = [line.strip() for line in self.content if line.strip()]
            lines = [f".. currentmodule:: {module}", "", ".. autosummary::", ""]
            lines += [f"   {name}" for name in names]
            for name in names:
                lines += ["", *_documented(module, name)]
            self.content = StringList(lines, self.get_source_info()[0])
            return self.parse_content_to_nodes()

    # In the types of parameters and results our own names are links, and only these.
    plain = {name: name for name in DEFAULT_LINKS}
    app.config.numpydoc_xref_aliases = plain | _own_classes()
    app.connect("builder-inited", _draw)
    app.connect("doctree-read", _trim)
    app.add_directive("names", Names)
    app.add_lexer("console", Terminal)
    app.add_lexer("csv", TextLexer)


def _own_classes() -> dict[str, str]:
    return {
        name: f"{room}.{name}"
        for room in ROOMS
        for name in import_module(room).__all__
        if isclass(getattr(import_module(room), name))
    }


def _draw(app: Sphinx) -> None:
    pictures = run_path(str(Path(app.confdir, "make_pictures.py")))
    pictures["make_pictures"](Path(app.confdir, "_static", "made"))


def _trim(app: Sphinx, page: nodes.document) -> None:
    from docutils import nodes

    del app
    # An example ends with a blank line for doctest, which need not be seen.
    for block in page.findall(nodes.literal_block):
        block[:] = [nodes.Text(block.astext().rstrip())]
        block.rawsource = block.astext()  # where they differ, nothing is highlighted


def _documented(module: str, name: str) -> list[str]:
    room, _, last = f"{module}.{name}".rpartition(".")
    found: Any = getattr(import_module(room), last)
    if isclass(found):
        # What the collections of the standard library add is not told again.
        kind, options = "class", [":members:", ":inherited-members: Mapping,Sequence,Exception"]
    else:
        kind, options = ("function" if isroutine(found) else "data"), []
    # The page of a room says its name; names of the package stand without it.
    return [f".. auto{kind}:: {room}.{last}", *(f"   {option}" for option in options)]

"""What a shell proposes where a name is typed: families, curves of a set, equations."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

import click

from thermofit.errors import ThermofitError

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

__all__ = ["CURVE", "EQUATION", "FAMILY", "PART", "Name"]


class Name(click.ParamType[str]):
    """A name as it is typed, of which a shell may propose the rest.

    Parameters
    ----------
    metavar : str
    propose : callable
        Takes what stands there so far; gives what may stand there, or None for a file.
    """

    def __init__(self, metavar: str, propose: Callable[[str], Iterable[str] | None]) -> None:
        self.name = metavar
        self._propose = propose

    def get_metavar(self, param: click.Parameter, ctx: click.Context) -> str:
        """Give the word for it in a help."""
        del param, ctx
        return self.name

    def convert(self, value: Any, param: Any, ctx: Any) -> str:
        """Take the text as it is; what it names is looked up by the command."""
        del param, ctx
        return str(value)

    def shell_complete(self, ctx: Any, param: Any, incomplete: str) -> list[CompletionItem]:
        """Propose; where files or plugins cannot be read, nothing."""
        from click.shell_completion import CompletionItem

        del ctx, param
        try:
            proposed = self._propose(incomplete)
        except (ThermofitError, OSError):
            return []
        if proposed is None:
            return [CompletionItem(incomplete, type="file")]
        return [CompletionItem(text) for text in proposed if text.startswith(incomplete)]


def _families(incomplete: str) -> Iterable[str]:
    import thermofit as tf

    del incomplete
    return tf.families()


def _curves(incomplete: str) -> Iterable[str] | None:
    import thermofit as tf

    path, colon, _ = incomplete.rpartition(":")
    return [f"{path}:{id_}" for id_ in tf.read_curve_set(path).ids] if colon else None


def _equations(incomplete: str) -> Iterable[str]:
    from thermofit.equations.catalogue import SHIPPED_NAMES

    del incomplete
    return ("auto", *SHIPPED_NAMES)


def _parts(incomplete: str) -> Iterable[str] | None:
    return _curves(incomplete) if ":" in incomplete else _families(incomplete)


FAMILY = Name("ID", _families)
CURVE = Name("SET.csv:ID", _curves)
PART = Name("ID", _parts)
EQUATION = Name("NAME", _equations)

"""Options that stand together in the help of a command."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import click

__all__ = ["Command", "in_section"]


class _Option(click.Option):
    """An option that belongs to a section."""

    def __init__(self, *names: Any, section: str, **settings: Any) -> None:
        super().__init__(*names, **settings)
        self.section = section


def in_section(section: str) -> Callable[..., Any]:
    """Give what makes options of a section, as `click.option` makes options.

    Parameters
    ----------
    section : str
        The heading over them.

    Returns
    -------
    callable
    """
    return partial(click.option, cls=_Option, section=section)


class Command(click.Command):
    """A command whose help shows its options by their sections, its own ones first."""

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the options, a list under each heading."""
        sections: dict[str, list[tuple[str, str]]] = {"Options": []}
        for parameter in self.get_params(ctx):
            record = parameter.get_help_record(ctx)
            if isinstance(parameter, click.Option) and record is not None:
                section = getattr(parameter, "section", "Options")
                sections.setdefault(section, []).append(record)
        for section, records in sections.items():
            with formatter.section(section):
                formatter.write_dl(records)

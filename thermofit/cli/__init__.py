"""The command line: one file for each command; parse, call, print."""

from thermofit.cli.app import main

__all__ = ["main"]

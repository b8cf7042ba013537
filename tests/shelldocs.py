"""The commands of a page: found, run as a reader would run them, and compared with what it shows.

A block of ``console`` has commands after ``$`` and what they print; ``...`` stands for lines that
are left out, and at the end of a line for the rest of it.  A block of ``sh`` has commands that
must succeed.  A block of another language below a line that ends in a file's name and a colon,
as in "Save this as `bench.csv`:", is that file.

``python -m tests.shelldocs PAGE…`` runs pages and writes into them what the commands print now.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
import sysconfig
from collections.abc import Callable, Iterator
from contextlib import chdir
from dataclasses import dataclass, replace
from pathlib import Path
from unittest import mock

ROOT = Path(__file__).resolve().parents[1]

# A terminal as everybody has one, and no colour.
SURROUNDINGS = {"COLUMNS": "80", "NO_COLOR": "1", "PYTHONIOENCODING": "utf-8"}

# Pages that are followed word by word in one shell, one after the other, from the installation on.
AS_TYPED = ("start-here.md", "plugin-guide.md")

_FENCE = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_NAMED = re.compile(r"`([\w./-]+)`:\n\n$")
_NUMBER = re.compile(r"(?<![\w.])[-+]?\d+(?:\.(\d+))?(?:e([-+]?\d+))?")


@dataclass(frozen=True)
class Step:
    """A file to write, or a command and what it prints."""

    line: int
    command: str = ""
    shown: str | None = None
    file: str = ""
    content: str = ""

    @property
    def fails(self) -> bool:
        """Whether the page shows an error, so that the command must end with one."""
        return bool(re.search(r"^(error|Error|Usage):? ", self.shown or "", re.MULTILINE))


@dataclass(frozen=True)
class Done:
    """What a command printed, standard error included, and its status."""

    printed: str
    status: int


Runner = Callable[[str], Done]


def steps_of(text: str) -> Iterator[Step]:
    """Give the files and commands of a page in their order."""
    for block in _FENCE.finditer(text):
        language, body = block.groups()
        line = text.count("\n", 0, block.start(2)) + 1
        if language == "console":
            yield from _shown(body, line)
        elif language == "sh":
            for offset, command in _commands(body):
                if command:
                    yield Step(line + offset, command)
        elif named := _NAMED.search(text, 0, block.start()):
            yield Step(line, file=named[1], content=body)


def _commands(body: str) -> Iterator[tuple[int, str]]:
    """Give the lines of a block, those that end in a backslash joined, with that of their end."""
    joined = ""
    for offset, text in enumerate(body.splitlines()):
        if text.endswith("\\"):
            joined += text[:-1]
        else:
            yield offset, (joined + text if joined else text)
            joined = ""


def _shown(body: str, line: int) -> Iterator[Step]:
    step: Step | None = None
    for offset, text in _commands(body):
        if text.startswith("$ "):
            if step is not None:
                yield step
            step = Step(line + offset, text[2:], "")
        else:
            assert step is not None and step.shown is not None, f"line {line}: no command"
            step = replace(step, shown=f"{step.shown}{text}\n")
    if step is not None:
        yield step


def difference(shown: str, printed: str) -> str:
    """Say how a printed text differs from the one shown; empty where it does not.

    Space between words may differ.  A number may differ by one in the last digit that is
    shown, or by 1e-6 of itself, since the last digits differ between processors.
    """
    left = [" ".join(line.split()) for line in printed.splitlines() if line.strip()]
    skip = False
    for line in (" ".join(line.split()) for line in shown.splitlines() if line.strip()):
        if line == "...":
            skip = True
            continue
        place = next((i for i, other in enumerate(left) if _alike(line, other)), None)
        if place is None or (place > 0 and not skip):
            return f"shown: {line}\nprinted: {left[0] if left else '(nothing more)'}"
        left, skip = left[place + 1 :], False
    return f"printed, and not shown: {left[0]}" if left and not skip else ""


def _alike(shown: str, printed: str) -> bool:
    if shown.endswith(" ..."):
        words = shown.split()[:-1]
        shown, printed = " ".join(words), " ".join(printed.split()[: len(words)])
    if _NUMBER.sub("#", shown) != _NUMBER.sub("#", printed):
        return False
    for ours, theirs in zip(_NUMBER.finditer(shown), _NUMBER.finditer(printed), strict=True):
        step = 10.0 ** (int(ours[2] or 0) - len(ours[1] or "")) if ours[1] or ours[2] else 0.0
        if abs(float(ours[0]) - float(theirs[0])) > max(1.01 * step, 1e-6 * abs(float(ours[0]))):
            return False
    return True


def in_process(folder: Path) -> Runner:
    """Run ``thermofit …`` in this process, which is quicker, and all else in a shell.

    What a page tells to install is there already, with the extras of the tests.
    """
    shim = folder / ".bin" / "thermofit"
    shim.parent.mkdir()
    shim.write_text(f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -m thermofit "$@"\n')
    shim.chmod(0o755)
    path = os.pathsep.join([str(shim.parent), os.environ["PATH"]])

    def run(command: str) -> Done:
        from click.testing import CliRunner

        from thermofit.cli.app import _cli

        if " pip install " in f" {command}":
            return Done("", 0)
        words = shlex.split(command)
        if words[0] == "thermofit" and not re.search(r"[|<>&;*]", command):
            with chdir(folder), mock.patch.dict(os.environ, SURROUNDINGS):
                result = CliRunner().invoke(_cli, words[1:], prog_name="thermofit")
            return Done(result.output, result.exit_code)
        done = subprocess.run(
            ["bash", "-c", command], cwd=folder, text=True, encoding="utf-8", check=False,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
            env=os.environ | SURROUNDINGS | {"PATH": path, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        return Done(done.stdout, done.returncode)

    return run


class Session:
    """One shell in which commands are typed one after the other."""

    _MARK = "-- done with status "

    def __init__(self, folder: Path, environment: dict[str, str]) -> None:
        self._shell = subprocess.Popen(
            ["bash", "--norc"], cwd=folder, env=environment | SURROUNDINGS, text=True,
            encoding="utf-8", stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
        )  # fmt: skip

    def __call__(self, command: str) -> Done:
        assert self._shell.stdin is not None and self._shell.stdout is not None
        # The command reads nothing of what is typed after it.
        ending = f"status=$?; echo; echo '{self._MARK}'$status"
        self._shell.stdin.write(f"{{ {command}\n}} </dev/null; {ending}\n")
        self._shell.stdin.flush()
        printed = ""
        for line in self._shell.stdout:
            if line.startswith(self._MARK):
                return Done(printed.removesuffix("\n"), int(line.removeprefix(self._MARK)))
            printed += line
        raise AssertionError(f"the shell ended in: {command}\n{printed}")

    @property
    def folder(self) -> Path:
        """Where the shell is now."""
        return Path(self("pwd").printed.strip())

    def close(self) -> None:
        """End the shell."""
        assert self._shell.stdin is not None and self._shell.stdout is not None
        self._shell.stdin.close()
        self._shell.wait()
        self._shell.stdout.close()


def newcomer(folder: Path) -> Session:
    """Type in a copy of the repository, as somebody does who has just got it.

    There is no network: pip takes what it would fetch from the packages that run the tests.
    """
    clone = folder / "thermofit"
    litter = shutil.ignore_patterns("__pycache__")
    for name in ("thermofit", "curves"):
        shutil.copytree(ROOT / name, clone / name, ignore=litter)
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, clone)
    packages = dict.fromkeys(sysconfig.get_path(kind) for kind in ("purelib", "platlib"))
    environment = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "PIP_"))}
    environment |= {
        "PATH": os.pathsep.join([str(Path(sys.executable).parent), environment["PATH"]]),
        "PYTHONPATH": os.pathsep.join(packages),
        "PIP_NO_INDEX": "1",
        "PIP_NO_DEPS": "1",
        "PIP_NO_BUILD_ISOLATION": "0",  # which means: none
        "PIP_DISABLE_PIP_VERSION_CHECK": "1",
    }
    return Session(clone, environment)


def follow(text: str, run: Runner, where: Callable[[], Path]) -> Iterator[tuple[Step, Done]]:
    """Do what a page says, step by step; its files lie in the folder where it is followed."""
    for step in steps_of(text):
        if step.file:
            folder = where().resolve()
            # A link would lead out of it, into the repository perhaps.
            path = (folder / step.file).resolve()
            if not path.is_relative_to(folder):
                raise ValueError(f"line {step.line}: {step.file} lies outside {folder}")
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(step.content, encoding="utf-8")
        else:
            yield step, run(step.command)


def complaints(name: str, done: Iterator[tuple[Step, Done]]) -> list[str]:
    """Say which commands of a page do not do what it shows."""
    found = []
    for step, result in done:
        place = f"{name}:{step.line}: $ {step.command}\n"
        if (result.status != 0) is not step.fails:
            found.append(f"{place}status {result.status}\n{result.printed}")
        elif step.shown is not None and (told := difference(step.shown, result.printed)):
            found.append(place + told)
    return found


def bench(folder: Path) -> Path:
    """Make a folder in which the pages' commands find copies of their files."""
    from tests.shell import BENCH

    for name in ("docs/demo", "curves"):
        shutil.copytree(ROOT / name, folder / name)
    (folder / "bench.csv").write_text(BENCH, encoding="utf-8")
    return folder


def rewritten(text: str, done: Iterator[tuple[Step, Done]]) -> str:
    """Give the page with what its commands print now, but for output that has gaps."""
    lines: list[str] = text.splitlines(keepends=True)
    for step, result in reversed(list(done)):
        if step.shown is not None and "..." not in step.shown.split("\n"):
            printed = "\n".join(line.rstrip() for line in result.printed.splitlines())
            new = [f"{printed}\n"] if printed else []
            lines[step.line : step.line + step.shown.count("\n")] = new
    return "".join(lines)


def _main(pages: list[str]) -> None:
    import tempfile

    for page in map(Path, pages):
        with tempfile.TemporaryDirectory() as folder:
            page.write_text(_written_anew(page, Path(folder)), encoding="utf-8")


def _written_anew(page: Path, folder: Path) -> str:
    text = page.read_text(encoding="utf-8")
    if page.name not in AS_TYPED:
        return rewritten(text, follow(text, in_process(bench(folder)), lambda: folder))
    typed = newcomer(folder)
    for earlier in AS_TYPED[: AS_TYPED.index(page.name)]:
        before = (page.parent / earlier).read_text(encoding="utf-8")
        list(follow(before, typed, lambda: typed.folder))
    new = rewritten(text, follow(text, typed, lambda: typed.folder))
    typed.close()
    return new


if __name__ == "__main__":
    _main(sys.argv[1:])

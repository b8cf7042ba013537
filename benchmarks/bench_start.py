"""Start-up: the import, and whole commands."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import thermofit as tf
from benchmarks.conftest import Call, Compare

ROUNDS = 21


def python(code: str) -> Call:
    return lambda: subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)


def command(*words: str) -> Call:
    call = [sys.executable, "-m", "thermofit", *words]
    return lambda: subprocess.run(call, check=True, capture_output=True)


def test_import(compare: Compare) -> None:
    compare("import thermofit", "import numpy", python("import numpy"), python("import thermofit"),
            reach=1.3, kind="at most", rounds=ROUNDS)  # fmt: skip


def test_convert_from_a_file(compare: Compare, tmp_path: Path) -> None:
    tf.add_curve(tmp_path / "shop.csv", tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="inlet"))
    compare("thermofit convert, closed-form curve from a file", "python -c 'import numpy'",
            python("import numpy"),
            command("convert", "--curve", f"{tmp_path / 'shop.csv'}:inlet", "--ohm", "4.7k"),
            reach=2.0, kind="at most", rounds=ROUNDS)  # fmt: skip


def test_convert_a_family(compare: Compare) -> None:
    compare("thermofit convert, a family", "python -c 'import numpy'", python("import numpy"),
            command("convert", "--family", "ntc-10k-3977", "--at", "25C"),
            reach=2.5, kind="at most", rounds=ROUNDS)  # fmt: skip


def test_help(compare: Compare) -> None:
    compare("thermofit --help", "python -c 'import numpy'", python("import numpy"),
            command("--help"), reach=2.5, kind="at most", rounds=ROUNDS)  # fmt: skip

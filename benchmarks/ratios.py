"""How long things take, as ratios against a baseline of the same run.

Run ``python benchmarks/ratios.py [ratios.csv]`` in a clone where ``pip install
'.[benchmark]'`` was done.  Further words go to pytest: ``-k evaluation`` runs a part.
Baseline and candidate are timed in turn by pytest-benchmark; the median of the ratios is
printed with the median times, and written to the file if one is named.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent


def main(words: list[str]) -> int:
    """Run the benchmarks and print one table."""
    options = [
        str(HERE), f"--rootdir={HERE.parent}", "-c", str(HERE / "pytest.ini"),
        "--benchmark-quiet", "-q", "-p", "no:cacheprovider",
    ]  # fmt: skip
    if words and words[0].endswith(".csv"):
        options += ["--ratios", str(Path(words.pop(0)).resolve())]
    # One thread is one thread, for the baselines as well.
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    sys.path.insert(0, str(HERE.parent))
    return int(pytest.main([*options, *words]))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

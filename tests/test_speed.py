"""Speed as ratios within one run, so that a slow machine does not fail and a slow program does."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

SAMPLE = Path(__file__).parents[1] / "sample_bills" / "fast_meter"

IMPORTS = "import pandas, matplotlib.figure, openpyxl, pint, jinja2, scipy.special"


def best_seconds(*commands: list[str], rounds: int) -> list[float]:
    """Best wall time of each command, the commands taking turns so that a busy machine is busy for all of them."""
    best = [float("inf")] * len(commands)
    for _ in range(rounds):
        for i, command in enumerate(commands):
            begun = time.perf_counter()
            subprocess.run([sys.executable, *command], check=True, stdout=subprocess.DEVNULL)
            best[i] = min(best[i], time.perf_counter() - begun)
    return best


def test_help_takes_at_most_six_times_bare_python() -> None:
    bare, helped = best_seconds(["-c", "pass"], ["-m", "reconcile", "--help"], rounds=10)
    assert helped <= 6.0 * bare, f"{helped / bare:.1f} times"


def test_check_writing_everything_takes_at_most_two_and_a_third_times_its_imports(tmp_path: Path) -> None:
    check = ["-m", "reconcile", "check", str(SAMPLE), "--out", str(tmp_path / "out")]
    imports, checked = best_seconds(["-c", IMPORTS], check, rounds=3)
    assert checked <= 2.33 * imports, f"{checked / imports:.1f} times"

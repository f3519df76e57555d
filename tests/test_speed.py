"""Speed as ratios within one run, so that a slow machine does not fail and a slow program does."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from pathlib import Path

SAMPLE = Path(__file__).parents[1] / "sample_bills" / "fast_meter"

IMPORTS = "import pandas, matplotlib.figure, openpyxl, pint, jinja2, scipy.special"


def spent() -> float:
    """Processor's time of all commands run so far [s], finer than the clock's ticks of 10 ms."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def seconds(*commands: list[str], rounds: int) -> list[float]:
    """Processor's time of each command over so many `rounds`, without the first.

    The commands take turns, so that a machine whose pace changes changes it for all of them; what they took together is
    compared, for the least of some turns of a command is the luck of one. Modules are compiled once, in the first
    round, as an installation has them.
    """
    total = [0.0] * len(commands)
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    for turn in range(rounds + 1):
        for i, command in enumerate(commands):
            begun = spent()
            subprocess.run([sys.executable, *command], check=True, stdout=subprocess.DEVNULL, env=environment)
            if turn:
                total[i] += spent() - begun
    return total


def test_help_takes_at_most_six_times_bare_python() -> None:
    bare, helped = seconds(["-c", "pass"], ["-m", "reconcile", "--help"], rounds=10)
    assert helped <= 6.0 * bare, f"{helped / bare:.1f} times"


def test_check_writing_everything_takes_little_more_than_the_imports_of_its_libraries(tmp_path: Path) -> None:
    check = ["-m", "reconcile", "check", str(SAMPLE), "--out", str(tmp_path / "out")]
    imports, checked = seconds(["-c", IMPORTS], check, rounds=5)
    assert checked <= 1.45 * imports, f"{checked / imports:.2f} times"

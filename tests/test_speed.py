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


def best_seconds(*commands: list[str], rounds: int, compiled: Path, times: int = 1) -> list[float]:
    """Least processor's time of each command run so many `times`.

    The commands take turns, so that a busy machine is busy for all of them.
    Modules are compiled once, as an installation has them: into a folder of the test's own. A machine whose pace
    changes by a quarter from second to second needs many turns until each has met its best.
    """
    best = [float("inf")] * len(commands)
    inherited = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    environment = {**inherited, "PYTHONPYCACHEPREFIX": str(compiled)}
    for _ in range(rounds):
        for i, command in enumerate(commands):
            begun = spent()
            for _ in range(times):
                subprocess.run([sys.executable, *command], check=True, stdout=subprocess.DEVNULL, env=environment)
            best[i] = min(best[i], spent() - begun)
    return best


def test_help_takes_at_most_six_times_bare_python(tmp_path: Path) -> None:
    bare, helped = best_seconds(["-c", "pass"], ["-m", "reconcile", "--help"], rounds=4, compiled=tmp_path, times=5)
    assert helped <= 6.0 * bare, f"{helped / bare:.1f} times"


def test_check_writing_everything_takes_little_more_than_the_imports_of_its_libraries(tmp_path: Path) -> None:
    check = ["-m", "reconcile", "check", str(SAMPLE), "--out", str(tmp_path / "out")]
    imports, checked = best_seconds(["-c", IMPORTS], check, rounds=10, compiled=tmp_path)
    assert checked <= 1.45 * imports, f"{checked / imports:.2f} times"

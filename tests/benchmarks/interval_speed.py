"""Time and memory to read interval files, against a bare ``pandas.read_csv`` of the same file.

    python tests/benchmarks/interval_speed.py            # 35,040 rows
    python tests/benchmarks/interval_speed.py --long     # and 5.26 million rows

Each reading runs in a process of its own. Times are of the processor, so that others on the machine matter little.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

YEAR, DECADE = 35_040, 5_260_000


def written(path: Path, rows: int) -> Path:
    """Write a plain file of readings."""
    rng = np.random.default_rng(0)
    minutes = 15 if rows == YEAR else 1
    times = np.datetime64("2015-01-01T00:00", "m") + minutes * np.arange(rows)
    with path.open("w", encoding="utf-8") as out:
        out.write("time,kwh\n")
        for low in range(0, rows, 500_000):
            texts = np.datetime_as_string(times[low : low + 500_000], unit="m")
            values = rng.random(len(texts)) * 0.05
            out.writelines(f"{t[:10]} {t[11:]},{v:.4f}\n" for t, v in zip(texts.tolist(), values.tolist(), strict=True))
    return path


def seconds(how: str, path: Path, repeats: int) -> float:
    """Median time of one way of reading [s], the first of several runs not counted."""
    import pandas as pd

    from reconcile.house import House
    from reconcile.read.gate import Gate
    from reconcile.read.interval_table import read_interval
    from reconcile.read.settings import IntervalSettings
    from reconcile.read.sources import IntervalFile

    def ours() -> None:
        gate = Gate()
        interval, _ = read_interval([IntervalFile(path.name, path)], gate, House("A", ()), IntervalSettings())
        assert interval is not None, gate.faults

    read = ours if how == "ours" else lambda: pd.read_csv(path)
    took = []
    for _ in range(repeats + (repeats > 1)):
        began = time.process_time()
        read()
        took.append(time.process_time() - began)
    return float(np.median(took[1:] or took))


def apart(how: str, path: Path, repeats: int) -> tuple[float, float]:
    """Time [s] and peak memory [MB] of one way of reading, in a process of its own."""
    run = subprocess.run(
        [sys.executable, __file__, "--one", how, str(path), str(repeats)], capture_output=True, text=True, check=True
    )
    took, memory = run.stdout.split()
    return float(took), float(memory)


def main() -> None:
    """Print the figures and their ratios."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--long", action="store_true")
    parser.add_argument("--one", nargs=3)
    asked = parser.parse_args()
    if asked.one:
        took = seconds(asked.one[0], Path(asked.one[1]), int(asked.one[2]))
        print(took, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
        return
    with tempfile.TemporaryDirectory() as place:
        for rows in (YEAR, DECADE) if asked.long else (YEAR,):
            path = written(Path(place, "interval.csv"), rows)
            repeats = 15 if rows == YEAR else 1
            (bare, bare_mb), (ours, ours_mb) = (apart(how, path, repeats) for how in ("bare", "ours"))
            print(
                f"{rows:>9,} rows: bare {1000 * bare:.0f} ms, {bare_mb:.0f} MB; read {1000 * ours:.0f} ms, "
                f"{ours_mb:.0f} MB; ratios {ours / bare:.1f} and {ours_mb / bare_mb:.1f}"
            )


if __name__ == "__main__":
    main()

"""Time and memory to read interval files, against a bare ``pandas.read_csv`` of the same file.

    python tests/benchmarks/interval_speed.py            # 35,040 rows
    python tests/benchmarks/interval_speed.py --long     # and 5.26 million rows

Both readings take turns in one process, so that a busy machine is busy for both; their times are of the processor. Peak
memory is of a process each (this one stays small: what it starts inherits its peak).
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
import itertools
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

YEAR, DECADE = 35_040, 5_260_000


HEADS = {
    "iso": "time,kwh",
    "iso-t": "time,kwh",
    "offset": "time,kwh",
    "seasons": "time,kwh",
    "am-pm": "time,kwh",
    "ends": "Start,End,kWh",
    "us": "Date,Time,Usage (kWh)",
    "span": "DATE,START TIME,END TIME,USAGE (kWh),COST",
    "epoch": "time,kwh",
    "wide": "Date," + ",".join(f"{hour:02d}:{minute:02d}" for hour in range(24) for minute in (0, 15, 30, 45)),
    "semicolon": "Datum;Uhrzeit;Verbrauch (kWh)",
}
"""Layouts and the first line of each."""


def lines(layout: str, times: NDArray[np.datetime64], values: list[float]) -> Iterator[str]:
    """Give the lines of some readings in one layout."""
    texts = np.datetime_as_string(times, unit="m").tolist()
    both = zip(texts, values, strict=True)
    if layout == "iso":
        return (f"{t[:10]} {t[11:]},{v:.4f}\n" for t, v in both)
    if layout == "iso-t":
        return (f"{t}:00,{v:.4f}\n" for t, v in both)
    if layout == "offset":
        return (f"{t}:00-05:00,{v:.4f}\n" for t, v in both)
    if layout == "epoch":
        return (f"{t},{v:.4f}\n" for t, v in zip(times.astype("datetime64[s]").astype(np.int64), values, strict=True))
    if layout == "semicolon":
        return (
            f"{t[8:10]}.{t[5:7]}.{t[:4]};{t[11:]};{v:.4f}\n".replace(".", ",").replace(",", ".", 2) for t, v in both
        )
    if layout == "seasons":
        month = times.astype("datetime64[M]").astype(int) % 12
        on = ((month > 2) & (month < 10)).astype(int)
        texts = np.datetime_as_string(times + 60 * on, unit="m").tolist()
        return (f"{t}:00-0{5 - hour}:00,{v:.4f}\n" for t, hour, v in zip(texts, on.tolist(), values, strict=True))
    clock = [f"{(h + 11) % 12 + 1}:{m:02d} {'AP'[h > 11]}M" for h in range(24) for m in range(60)]
    minute = ((times - times.astype("datetime64[D]")) / np.timedelta64(1, "m")).astype(int).tolist()
    days = [f"{int(t[5:7])}/{int(t[8:10])}/{t[:4]}" for t in texts]
    step = int((times[1] - times[0]) / np.timedelta64(1, "m"))
    if layout in ("am-pm", "ends"):
        stamps = [f"{d} {clock[m]}" for d, m in zip(days, minute, strict=True)]
        if layout == "am-pm":
            return (f"{s},{v:.4f}\n" for s, v in zip(stamps, values, strict=True))
        last = (times[-1] + np.timedelta64(step, "m")).item()
        ends = [*stamps[1:], f"{last.month}/{last.day}/{last.year} {clock[60 * last.hour + last.minute]}"]
        return (f"{s},{e},{v:.4f}\n" for s, e, v in zip(stamps, ends, values, strict=True))
    if layout == "us":
        return (f"{d},{clock[m]},{v:.4f}\n" for d, m, v in zip(days, minute, values, strict=True))
    if layout == "span":
        return (
            f"{d},{clock[m]},{clock[(m + max(step - 1, 1)) % 1440]},{v:.2f},${v / 8:.2f}\n"
            for d, m, v in zip(days, minute, values, strict=True)
        )
    whole = len(values) // 96 * 96
    return (
        texts[at][:10] + "," + ",".join(f"{v:.4f}" for v in values[at : at + 96]) + "\n" for at in range(0, whole, 96)
    )


def written(path: Path, rows: int, layout: str) -> Path:
    """Write a plain file of readings."""
    rng = np.random.default_rng(0)
    minutes = 15 if rows == YEAR or layout == "wide" else 1
    times = np.datetime64("1950-01-01T00:00" if minutes == 15 and rows != YEAR else "2015-01-01T00:00", "m")
    times = times + minutes * np.arange(rows)
    piece = 96 * 5_000
    with path.open("w", encoding="utf-8") as out:
        out.write(HEADS[layout] + "\n")
        for low in range(0, rows, piece):
            some = times[low : low + piece]
            out.writelines(lines(layout, some, (rng.random(len(some)) * 0.05).tolist()))
    return path


def seconds(path: Path, repeats: int, ways: Sequence[str] = ("bare", "ours")) -> list[float]:
    """Median time of each way of reading [s], taken in turns, the first of several runs not counted."""
    import pandas as pd

    from reconcile.house import House
    from reconcile.read.household.settings import IntervalSettings
    from reconcile.read.tables.gate import Gate
    from reconcile.read.timeline.interval_table import read_interval
    from reconcile.read.wrappings.sources import IntervalFile

    def ours() -> None:
        gate = Gate()
        interval, _ = read_interval([IntervalFile(path.name, path)], gate, House("A", ()), IntervalSettings())
        assert interval is not None, gate.faults

    sign = ";" if path.stem == "semicolon" else ","

    def bare() -> None:
        pd.read_csv(path, sep=sign, decimal="," if sign == ";" else ".")

    took: dict[str, list[float]] = {how: [] for how in ways}
    for _ in range(repeats + (repeats > 1)):
        for how, times in took.items():
            began = time.process_time()
            ours() if how == "ours" else bare()
            times.append(time.process_time() - began)
    return [float(np.median(times[1:] or times)) for times in took.values()]


def apart(path: Path, repeats: int, *ways: str) -> tuple[list[float], float]:
    """Times of some ways of reading [s], and the peak memory of the process they run in [MB]."""
    command = [sys.executable, __file__, "--one", str(path), str(repeats), *ways]
    *took, memory = subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()
    return [float(one) for one in took], float(memory)


def main() -> None:
    """Print the figures and their ratios."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--long", action="store_true")
    parser.add_argument("--layouts", nargs="+", choices=HEADS, default=list(HEADS))
    parser.add_argument("--one", nargs="+")
    asked = parser.parse_args()
    if asked.one:
        print(*seconds(Path(asked.one[0]), int(asked.one[1]), asked.one[2:]))
        print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
        return
    with tempfile.TemporaryDirectory() as place:
        for rows, layout in itertools.product((YEAR, DECADE) if asked.long else (YEAR,), asked.layouts):
            path = written(Path(place, f"{layout}.csv"), rows, layout)
            (_, bare_mb), (_, ours_mb) = apart(path, 1, "bare"), apart(path, 1, "ours")
            (bare, ours), _ = apart(path, 15 if rows == YEAR else 2, "bare", "ours")
            print(
                f"{rows:>9,} rows, {layout:<9}: bare {1000 * bare:.0f} ms, {bare_mb:.0f} MB; "
                f"read {1000 * ours:.0f} ms, {ours_mb:.0f} MB; ratios {ours / bare:.1f} and {ours_mb / bare_mb:.1f}",
                flush=True,
            )
            path.unlink()


if __name__ == "__main__":
    main()

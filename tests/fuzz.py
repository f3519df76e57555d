"""Change good houses in thousands of ways and see that each is refused with its place, or answered.

By hand, open-ended: ``python tests/fuzz.py --seconds 60 --seed 3``; in the tests a few fixed seeds run. The kinds:

bytes, cells, parts
    Any file of a house, or any part of a workbook, torn in its bytes, its cells or its keys: never anything but a house
    or faults, every fault with its row or key, and in bounded time.
same
    Changes without meaning (order of rows and columns, line ends, equal units, a note, a load of 0 W): the answer must
    not move.
meaning
    Changes with meaning (a digit, a unit, a column, a date, a name): refused, found, or harmless.
"""

from __future__ import annotations

import argparse
import csv
import io
import random
import re
import resource
import shutil
import sys
import tempfile
import time
import traceback
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parent)]

from extreme import extreme_house

from reconcile.answer import reconcile
from reconcile.errors import InputError
from reconcile.house import House
from reconcile.read import read_house
from reconcile.result import Reconciliation

SAMPLES = Path(__file__).parents[1] / "sample_bills"
ESPI = Path(__file__).parent / "data" / "espi"
MOST_XML = 100_000
"""The larger files of a utility's XML take a second each [B]."""
LONGEST_S = 10.0
"""CPU time that one house may take [s]."""
LARGEST_MB = 500
"""Memory that a run may take [MB]."""
WHOLE = (
    "there are no bills", "this is not a workbook", "there is nothing in it", "it covers no billing period",
    "the file is larger", "this is not a text file", "this is not a file", "this workbook unpacks", "there is no such",
    "this file is not known", "this sheet is not known", "there are two sheets", "this is neither", "only in capitals",
    "this folder holds no", "differ only", "keep one", "this workbook has no sheet", "there is a file", "it holds more",
    "there are fewer than two", "interval data in this form", "there is another field test",
    "this archive is broken", "this part of the archive", "this file holds no electricity", "usage points in it",
    "this parquet file cannot",
)  # fmt: skip
"""Faults of a whole file, which have no row."""
PIECES = (
    "1e308", "-1e999", "9" * 400, "\u0663\u0664", "nan", "1_000", "0x10", "--5", "1,5", "\u2212 3", '"', "'", '"""',
    "[[", "]]", "{", "}", "=", "#REF!", "=1+1", "\x00", "\x1a", "\ufeff", "9999-12-31", "0001-01-01", "2025-02-30",
    "31/12/9999", "24:00", "23:59:60", "+14:00", "5-9", "13", "1-", ",,,,", ";", "\t", "\r", "\n\n", "%", "%Y%Y",
    "**9**9", "hour/day", "1/0 W", "()" * 30, "UTC", "../..", "true", "inf", "a.b.c = 1", "[house.name]", "\u2028",
    "-0", "1e-320",
    "$1,234.50", "1.234,50", "kWh", "Wh", "<", "&amp;", "<!DOCTYPE x>", "total", "Jan 5", "20250107", "45678",
    "x" * 3000,
)  # fmt: skip


HEADERS = ("kwh", "date", "start", "", "amount", "Usage (Wh)", "x")


@dataclass(slots=True)
class Tally:
    """What came out."""

    outcomes: Counter[str] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)
    faults: int = 0
    faults_without_place: Counter[str] = field(default_factory=Counter)
    longest_s: float = 0.0
    largest_mb: float = 0.0
    meant: Counter[tuple[str, str]] = field(default_factory=Counter)
    notes: list[str] = field(default_factory=list)

    def fail(self, seed: int, kind: str, what: str) -> None:
        """Record what must not be."""
        self.failures.append(f"seed {seed}, {kind}: {what}")


def good_house(dice: random.Random, most_hours: int = 72) -> dict[str, str]:
    """Return the files of a sample house, its hourly data cut short, with the small tables that samples lack."""
    names = sorted(path.name for path in SAMPLES.iterdir() if (path / "bills.csv").exists())
    folder = SAMPLES / dice.choice(names)
    files = {path.name: path.read_text(encoding="utf-8") for path in sorted(folder.iterdir()) if path.is_file()}
    if "interval.csv" in files:
        files["interval.csv"] = "".join(files["interval.csv"].splitlines(keepends=True)[: most_hours + 1])
    if "weather.csv" in files:
        files["weather.csv"] = "".join(files["weather.csv"].splitlines(keepends=True)[:60])
    first, last = (files["bills.csv"].splitlines()[n].split(",")[0] for n in (1, -1))
    load = files["loads.csv"].splitlines()[1].split(",")[0] if "loads.csv" in files else ""
    files.setdefault("events.csv", f"date,until,kind,load,note\n{first},{last},away,,x\n{last},,repair,{load},\n")
    if dice.random() < 0.5:
        files["readings.csv"] = f"date,meter,register,value,type\n{first},,total,100,actual\n{last},,total,900,actual\n"
        files["charges.csv"] = f"start,company,part,name,quantity,rate,amount\n{first},A,supply,E,9,0.1,0.90\n"
    return files


def as_workbook(files: dict[str, str]) -> bytes:
    """Return a house's files as one workbook, its parts as a spreadsheet program would write them."""
    import tomllib

    import xlsxwriter

    def keys(table: Any, path: str) -> Iterator[tuple[str, Any]]:
        for key, value in table.items() if isinstance(table, dict) else enumerate(table, start=1):
            name = f"{path}[{key}]" if isinstance(key, int) else f"{path}.{key}" if path else key
            if isinstance(value, dict) or (isinstance(value, list) and value and isinstance(value[0], dict)):
                yield from keys(value, name)
            else:
                yield name, value

    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, {"in_memory": True}) as book:
        settings = book.add_worksheet("house")
        for row, (name, value) in enumerate(keys(tomllib.loads(files.get("house.toml", "")), "")):
            settings.write_row(row, 0, [name, value if isinstance(value, bool | int | float) else str(value)])
        for name, text in files.items():
            if name.endswith(".csv"):
                sheet = book.add_worksheet(name.removesuffix(".csv"))
                for number, cells in enumerate(csv.reader(io.StringIO(text))):
                    for column, cell in enumerate(cells):
                        sheet.write(number, column, _typed(cell))
    return stream.getvalue()


def _typed(cell: str) -> Any:
    try:
        return float(cell)
    except ValueError:
        return cell


# -- bytes, cells, parts ----------------------------------------------------------------------------------------------


def torn_bytes(data: bytes, dice: random.Random) -> bytes:
    """Tear bytes: changed, put in, cut out, doubled, cut short."""
    raw = bytearray(data)
    for _ in range(dice.randint(1, 4)):
        at = dice.randrange(len(raw) + 1)
        way = dice.randrange(5)
        if way == 0 and raw:
            raw[at % len(raw)] = dice.randrange(256)
        elif way == 1:
            raw[at:at] = dice.choice(PIECES).encode("utf-8", "surrogatepass")
        elif way == 2:
            del raw[at : at + dice.choice((1, 7, 40, 400))]
        elif way == 3:
            raw[at:at] = raw[at : at + dice.choice((1, 30, 300))]
        elif dice.random() < 0.3:
            del raw[at:]
    return bytes(raw)


def torn_cells(text: str, dice: random.Random) -> str:
    """Tear a table's cells: replaced, exchanged, moved, doubled, taken out."""
    rows = list(csv.reader(io.StringIO(text)))
    for _ in range(dice.randint(1, 3)):
        row = dice.choice(rows)
        way = dice.randrange(7)
        at = dice.randrange(max(len(row), 1))
        if way == 0 and row:
            row[at] = dice.choice(PIECES)
        elif way == 1 and len(row) > 1:
            other = dice.randrange(len(row))
            row[at], row[other] = row[other], row[at]
        elif way == 2:
            rows.insert(dice.randrange(len(rows) + 1), list(row))
        elif way == 3 and len(rows) > 2:
            rows.remove(row)
        elif way == 4:
            for one in rows:
                del one[at : at + 1]
        elif way == 5 and rows[0]:
            rows[0][dice.randrange(len(rows[0]))] = dice.choice(
                ("kwh", "date", "start", "", "amount", "Usage (Wh)", "x")
            )
        elif way == 6 and row:
            row[at] += dice.choice((" ", " kWh", "0", ".", "-", " W", "\n", " estimated"))
    stream = io.StringIO(newline="")
    csv.writer(stream, lineterminator="\n").writerows(rows)
    return stream.getvalue()


def torn_keys(text: str, dice: random.Random) -> str:
    """Tear a file of settings: a line doubled, moved, taken out, its key or value changed."""
    lines = text.splitlines()
    for _ in range(dice.randint(1, 3)):
        at = dice.randrange(len(lines))
        key, sign, value = lines[at].partition("=")
        way = dice.randrange(5)
        if way == 0:
            lines.insert(dice.randrange(len(lines)), lines[at])
        elif way == 1 and len(lines) > 1:
            del lines[at]
        elif way == 2 and sign:
            pieces = (*PIECES, "0", "-1", "1e9", "[1, 2]", "{a = 1}", "2025-01-01", '"x"')
            lines[at] = f"{key}= {dice.choice(pieces)}"
        elif way == 3 and sign:
            lines[at] = f"{key.strip()[:-1]}{dice.choice(('', 'x'))} ={value}"
        else:
            lines[at] += dice.choice((" W", "]", '"', "0", " # note"))
    return "\n".join(lines) + "\n"


def torn_workbook(data: bytes, dice: random.Random) -> bytes:
    """Tear a workbook: its bytes, or one of its parts."""
    if dice.random() < 0.3:
        return torn_bytes(data, dice)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    name = dice.choice([*parts, *(part for part in parts if "sheet" in part)])
    parts[name] = torn_bytes(parts[name], dice)
    if dice.random() < 0.1:
        del parts[dice.choice(list(parts))]
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for part, content in parts.items():
            archive.writestr(part, content)
    return stream.getvalue()


def torn_house(dice: random.Random, place: Path) -> Path:
    """Write a house with one file torn."""
    files = good_house(dice)
    if dice.random() < 0.25:
        path = place / "house.xlsx"
        path.write_bytes(torn_workbook(as_workbook(files), dice))
        return path
    name = dice.choice(sorted(files))
    way = torn_keys if name.endswith(".toml") else torn_cells
    if dice.random() < 0.4:
        content = torn_bytes(files[name].encode(), dice)
    else:
        content = way(files[name], dice).encode("utf-8", "surrogatepass")
    return written(place, {**{k: v.encode() for k, v in files.items()}, name: content})


def torn_intervals(dice: random.Random, place: Path) -> Path:
    """Write a house with interval data in one of many layouts, or as a utility's XML, one file torn."""
    from interval_layouts import HOUSE, LAYOUTS, make

    bills = b"start,end,kwh\n2025-01-07,2025-02-06,912\n2025-02-06,2025-03-11,801\n"
    files = {"bills.csv": bills, "house.toml": HOUSE.encode()}
    if dice.random() < 0.2:
        source = dice.choice(sorted(path for path in ESPI.glob("*.xml") if path.stat().st_size < MOST_XML))
        files["interval.xml"] = torn_bytes(source.read_bytes(), dice)
        return written(place, files)
    name = dice.choice(sorted(LAYOUTS))
    given = LAYOUTS[name](make(dice.randrange(10_000), step=3600 if name.startswith("hour") else 900))
    files["house.toml"] += given.toml.encode()
    for file, content in given.files.items():
        raw = content if isinstance(content, bytes) else content.encode()
        if isinstance(content, str) and "\r" not in content and dice.random() < 0.5:
            raw = torn_cells(content, dice).encode("utf-8", "surrogatepass")
        files[file] = torn_workbook(raw, dice) if file.endswith(".xlsx") else torn_bytes(raw, dice)
    return written(place, files)


def written(place: Path, files: dict[str, bytes]) -> Path:
    """Write a house's files into a folder of its own."""
    folder = place / "house"
    folder.mkdir()
    for name, content in files.items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes(content)
    return folder


# -- without meaning --------------------------------------------------------------------------------------------------


def _rows(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text)))


def _text(rows: list[list[str]], end: str = "\n") -> str:
    stream = io.StringIO(newline="")
    csv.writer(stream, lineterminator=end).writerows(rows)
    return stream.getvalue()


def _columns_shuffled(text: str, dice: random.Random) -> str:
    rows = _rows(text)
    order = dice.sample(range(len(rows[0])), len(rows[0]))
    return _text([[row[i] for i in order] for row in rows])


def _rows_shuffled(text: str, dice: random.Random) -> str:
    head, *rows = _rows(text)
    return _text([head, *dice.sample(rows, len(rows))])


def _in_kilowatts(text: str, dice: random.Random) -> str:
    head, *rows = _rows(text)
    at = head.index("watts")
    for row in rows:
        if row[at].replace(".", "").isdecimal():
            row[at] = f"{float(row[at]) / 1000:.6f} kW"
    return _text([head, *rows])


def _with_nothing(text: str, dice: random.Random) -> str:
    head, *rows = _rows(text)
    row = dict.fromkeys(head, "")
    row |= {"load": "Night light, unplugged", "watts": "0", "run_hours": "3"}
    return _text([head, *rows, list(row.values())])


def _with_notes(text: str, dice: random.Random) -> str:
    head, *rows = _rows(text)
    if "note" in head:
        return text
    return _text([[*head, "note"], *([*row, dice.choice(("", "asked Ann", "1, 2"))] for row in rows)])


Change = Callable[[str, random.Random], str]
SAME: dict[str, tuple[tuple[str, ...], Change]] = {
    "rows in another order": (("bills.csv", "loads.csv", "weather.csv"), _rows_shuffled),
    "columns in another order": (("bills.csv", "loads.csv", "weather.csv"), _columns_shuffled),
    "line ends": (("bills.csv", "loads.csv", "house.toml"), lambda text, _: text.replace("\n", "\r\n")),
    "a byte order mark": (("bills.csv", "loads.csv"), lambda text, _: "\ufeff" + text),
    "blank rows": (("bills.csv", "loads.csv"), lambda text, _: text + "\n,,,\n\n"),
    "every cell quoted": (
        ("bills.csv", "loads.csv"),
        lambda text, _: "\n".join(",".join(f'"{cell}"' for cell in row) for row in _rows(text)) + "\n",
    ),
    "headers in capitals": (
        ("bills.csv", "loads.csv"),
        lambda text, _: text.replace(text.splitlines()[0], text.splitlines()[0].upper().replace("_", " "), 1),
    ),
    "kilowatts": (("loads.csv",), _in_kilowatts),
    "a load of nothing": (("loads.csv",), _with_nothing),
    "notes": (("bills.csv", "loads.csv"), _with_notes),
    "a comment": (("house.toml",), lambda text, _: "# mine\n" + text),
}


def moved(one: Reconciliation, other: Reconciliation) -> str | None:
    """Say what of an answer moved; None where nothing did."""
    if one.verdict.decision != other.verdict.decision:
        return f"decision {one.verdict.decision} -> {other.verdict.decision}"
    for number, (a, b) in enumerate(zip(one.rows, other.rows, strict=True)):
        if a.flag != b.flag:
            return f"bill {number}: {a.flag} -> {b.flag}"
        for name in ("billed_kwh", "expected_kwh", "usual_kwh", "usual_low_kwh", "usual_high_kwh"):
            x, y = getattr(a, name), getattr(b, name)
            if (x is None) != (y is None) or (x is not None and abs(x - y) > 1e-4 * max(abs(x), 1.0)):
                return f"bill {number}, {name}: {x} -> {y}"
    chances = [{cause.code: round(cause.probability, 3) for cause in answer.causes} for answer in (one, other)]
    worst = max((abs(chances[0].get(k, 0) - chances[1].get(k, 0)) for k in {*chances[0], *chances[1]}), default=0.0)
    return f"causes {chances[0]} -> {chances[1]}" if worst > 0.002 else None


# -- with meaning -----------------------------------------------------------------------------------------------------


def _cells(text: str, column: str, change: Callable[[str], str], rows: slice | list[int] | None = None) -> str:
    head, *body = _rows(text)
    if column not in head:
        return text
    at = head.index(column)
    chosen = range(len(body)) if rows is None else range(len(body))[rows] if isinstance(rows, slice) else rows
    for number in chosen:
        if body[number][at]:
            body[number][at] = change(body[number][at])
    return _text([head, *body])


def _times(factor: float) -> Callable[[str], str]:
    return lambda cell: f"{float(cell) * factor:g}"


def _exchanged(text: str, one: str, other: str) -> str:
    head, *body = _rows(text)
    if one in head and other in head:
        a, b = head.index(one), head.index(other)
        for row in body:
            row[a], row[b] = row[b], row[a]
    return _text([head, *body])


def _one_digit(dice: random.Random) -> Callable[[str], str]:
    def change(cell: str) -> str:
        at = dice.randrange(max(len(cell.partition(".")[0]) - 1, 1))
        return (
            cell[:at] + str((int(cell[at]) + dice.randint(2, 8)) % 10) + cell[at + 1 :] if cell[at].isdigit() else cell
        )

    return change


def _month_on(cell: str) -> str:
    year, month, day = cell.split("-")
    return f"{year}-{int(month) % 12 + 1:02d}-{day}"


Meant = Callable[[dict[str, str], random.Random], dict[str, str]]
MEANING: dict[str, Meant] = {
    "kWh in Wh": lambda f, _: {"bills.csv": _cells(f["bills.csv"], "kwh", _times(1000))},
    "kWh in MWh": lambda f, _: {"bills.csv": _cells(f["bills.csv"], "kwh", _times(0.001))},
    "kWh times ten": lambda f, _: {"bills.csv": _cells(f["bills.csv"], "kwh", _times(10))},
    "kWh and amount exchanged": lambda f, _: {"bills.csv": _exchanged(f["bills.csv"], "kwh", "amount")},
    "amounts in cents": lambda f, _: {"bills.csv": _cells(f["bills.csv"], "amount", _times(100))},
    "readings exchanged": lambda f, _: {"bills.csv": _exchanged(f["bills.csv"], "reading_start", "reading_end")},
    "one bill times ten": lambda f, d: {
        "bills.csv": _cells(f["bills.csv"], "kwh", _times(10), [d.randrange(len(_rows(f["bills.csv"])) - 1)])
    },
    "a digit of a kWh": lambda f, d: {
        "bills.csv": _cells(f["bills.csv"], "kwh", _one_digit(d), [d.randrange(len(_rows(f["bills.csv"])) - 1)])
    },
    "a digit of a reading": lambda f, d: {
        "bills.csv": _cells(f["bills.csv"], "reading_end", _one_digit(d), [d.randrange(len(_rows(f["bills.csv"])) - 1)])
    },
    "a month of a date": lambda f, d: {
        "bills.csv": _cells(f["bills.csv"], "end", _month_on, [d.randrange(len(_rows(f["bills.csv"])) - 1)])
    },
    "watts in kilowatts": lambda f, _: {
        "loads.csv": _cells(f["loads.csv"], "watts", lambda c: f"{float(c) / 1000:g}" if c.isdecimal() else c)
    },
    "a letter of a load in the diary": lambda f, _: {
        "events.csv": _cells(f["events.csv"], "load", lambda cell: cell[:-1] + "x")
    },
    "a bill left out": lambda f, d: {
        "bills.csv": _text([r for n, r in enumerate(_rows(f["bills.csv"])) if n != 1 + d.randrange(3) + 1])
    },
}


def _some(text: str, dice: random.Random, most: int = 4) -> list[int]:
    count = len(_rows(text)) - 1
    return dice.sample(range(count), min(dice.randint(2, most), count))


def _bills(change: Callable[[list[str], list[list[str]], random.Random], None]) -> Meant:
    """Change the table of bills as a whole."""

    def changed(files: dict[str, str], dice: random.Random) -> dict[str, str]:
        head, *rows = _rows(files["bills.csv"])
        change(head, rows, dice)
        return {"bills.csv": _text([head, *rows])}

    return changed


def _swapped_in_part(one: str, other: str) -> Meant:
    def change(head: list[str], rows: list[list[str]], dice: random.Random) -> None:
        if one in head and other in head:
            a, b = head.index(one), head.index(other)
            for at in dice.sample(range(len(rows)), dice.randint(2, max(len(rows) // 2, 2))):
                rows[at][a], rows[at][b] = rows[at][b], rows[at][a]

    return _bills(change)


def _year_off(cell: str, years: int) -> str:
    year, rest = cell.split("-", 1)
    return f"{int(year) + years}-{rest}"


def _a_year_of_dates_off(head: list[str], rows: list[list[str]], dice: random.Random) -> None:
    years = sorted({row[0][:4] for row in rows})
    year, by = dice.choice(years), dice.choice((-1, 1))
    for row in rows:
        if row[0][:4] == year:
            row[:2] = [_year_off(cell, by) for cell in row[:2]]


def _one_end_a_year_off(head: list[str], rows: list[list[str]], dice: random.Random) -> None:
    row = dice.choice(rows)
    row[1] = _year_off(row[1], dice.choice((-1, 1)))


def _twice_with_another_kwh(head: list[str], rows: list[list[str]], dice: random.Random) -> None:
    row = list(dice.choice(rows))
    at = head.index("kwh")
    row[at] = f"{float(row[at]) * dice.uniform(1.03, 1.6):.0f}" if row[at] else "500"
    rows.insert(dice.randrange(len(rows)), row)


def _kwh_of_two_bills_exchanged(head: list[str], rows: list[list[str]], dice: random.Random) -> None:
    one, other = dice.sample(rows, 2)
    at = head.index("kwh")
    one[at], other[at] = other[at], one[at]


def _start_and_end_exchanged(head: list[str], rows: list[list[str]], dice: random.Random) -> None:
    row = dice.choice(rows)
    row[0], row[1] = row[1], row[0]


def _column_slipped(column: str) -> Meant:
    def change(head: list[str], rows: list[list[str]], dice: random.Random) -> None:
        if column in head:
            at, begin = head.index(column), dice.randrange(len(rows) // 2)
            values = [row[at] for row in rows]
            for n in range(begin, len(rows) - 1):
                rows[n][at] = values[n + 1]

    return _bills(change)


def _day_and_month_exchanged(head: list[str], rows: list[list[str]], dice: random.Random) -> None:
    for row in rows:
        for at in (0, 1):
            year, month, day = row[at].split("-")
            if int(day) <= 12:
                row[at] = f"{year}-{day}-{month}"


def _point_lost(cell: str) -> str:
    return cell.replace(".", "")


def _weather(change: Callable[[list[str]], list[str] | None]) -> Meant:
    def changed(files: dict[str, str], dice: random.Random) -> dict[str, str]:
        if "weather.csv" not in files:
            return {}
        head, *rows = _rows(files["weather.csv"])
        kept = [new for new in (change(list(row)) for row in rows) if new is not None]
        return {"weather.csv": _text([head, *kept])}

    return changed


def _in_fahrenheit(row: list[str]) -> list[str]:
    return [row[0], *(f"{float(cell) * 1.8 + 32:.1f}" if cell else "" for cell in row[1:])]


def _in_celsius(row: list[str]) -> list[str]:
    return [row[0], *(f"{(float(cell) - 32) / 1.8:.1f}" if cell else "" for cell in row[1:])]


def _other_unit(files: dict[str, str], dice: random.Random) -> dict[str, str]:
    fahrenheit = 'temperature_unit = "F"' in files["house.toml"]
    return _weather(_in_celsius if fahrenheit else _in_fahrenheit)(files, dice)


def _other_unit_for_part(files: dict[str, str], dice: random.Random) -> dict[str, str]:
    if "weather.csv" not in files:
        return {}
    fahrenheit = 'temperature_unit = "F"' in files["house.toml"]
    head, *rows = _rows(files["weather.csv"])
    begin = dice.randrange(len(rows) // 4, 3 * len(rows) // 4)
    rows[begin:] = [(_in_celsius if fahrenheit else _in_fahrenheit)(row) for row in rows[begin:]]
    return {"weather.csv": _text([head, *rows])}


def _day_month(row: list[str]) -> list[str] | None:
    year, month, day = row[0].split("-")
    return [f"{year}-{day}-{month}", *row[1:]] if int(day) <= 12 else row


def _the_year_before(row: list[str]) -> list[str] | None:
    return None if row[0].endswith("02-29") else [_year_off(row[0], -1), *row[1:]]


def _settings(old: str, new: Callable[[str], str]) -> Meant:
    """Change the value behind a key of house.toml."""

    def changed(files: dict[str, str], dice: random.Random) -> dict[str, str]:
        return {"house.toml": re.sub(rf"({old} *= *)([0-9.]+)", lambda m: m[1] + new(m[2]), files["house.toml"])}

    return changed


def _load(column: str, change: Callable[[str], str], largest: bool = True) -> Meant:
    """Change one load's cell, the largest load's or any."""

    def changed(files: dict[str, str], dice: random.Random) -> dict[str, str]:
        head, *rows = _rows(files["loads.csv"])
        if column not in head:
            return {}
        at = head.index(column)
        filled = [n for n, row in enumerate(rows) if row[at].replace(".", "").isdecimal()]
        if not filled:
            return {}
        chosen = max(filled, key=lambda n: float(rows[n][at])) if largest else dice.choice(filled)
        return {"loads.csv": _cells(files["loads.csv"], column, change, [chosen])}

    return changed


MEANING |= {
    "kWh and amount exchanged in part": _swapped_in_part("kwh", "amount"),
    "readings exchanged in part": _swapped_in_part("reading_start", "reading_end"),
    "a year of dates off by one": _bills(_a_year_of_dates_off),
    "an end a year off": _bills(_one_end_a_year_off),
    "a bill twice with another kWh": _bills(_twice_with_another_kwh),
    "kWh of two bills exchanged": _bills(_kwh_of_two_bills_exchanged),
    "start and end exchanged": _bills(_start_and_end_exchanged),
    "kWh slipped by a row": _column_slipped("kwh"),
    "amounts slipped by a row": _column_slipped("amount"),
    "closing readings slipped by a row": _column_slipped("reading_end"),
    "days and months of bills exchanged": _bills(_day_and_month_exchanged),
    "the points of some amounts lost": lambda f, d: {
        "bills.csv": _cells(f["bills.csv"], "amount", _point_lost, _some(f["bills.csv"], d))
    },
    "the point of one amount lost": lambda f, d: {
        "bills.csv": _cells(f["bills.csv"], "amount", _point_lost, [d.randrange(len(_rows(f["bills.csv"])) - 1)])
    },
    "a digit of an amount": lambda f, d: {
        "bills.csv": _cells(f["bills.csv"], "amount", _one_digit(d), [d.randrange(len(_rows(f["bills.csv"])) - 1)])
    },
    "some kWh in MWh": lambda f, d: {
        "bills.csv": _cells(f["bills.csv"], "kwh", _times(0.001), _some(f["bills.csv"], d))
    },
    "kWh in therms": lambda f, _: {"bills.csv": _cells(f["bills.csv"], "kwh", _times(1 / 29.3))},
    "kWh in megajoules": lambda f, _: {"bills.csv": _cells(f["bills.csv"], "kwh", _times(3.6))},
    "kWh a day": lambda f, _: {"bills.csv": _cells(f["bills.csv"], "kwh", _times(1 / 30.4))},
    "weather in the other unit": _other_unit,
    "weather in the other unit from some day": _other_unit_for_part,
    "weather in tenths": _weather(lambda row: [row[0], *(f"{float(c) * 10:g}" if c else "" for c in row[1:])]),
    "days and months of weather exchanged": _weather(_day_month),
    "weather of another year": _weather(_the_year_before),
    "one load in kilowatts": _load("watts", _times(0.001)),
    "one load a thousand times": _load("watts", _times(1000), largest=False),
    "one load ten times": _load("watts", _times(10), largest=False),
    "one load's hours in minutes": _load("run_hours", _times(60), largest=False),
    "one load's hours a week": _load("run_hours", _times(7), largest=False),
    "price in cents": _settings("(?:energy|per_kwh|price)", lambda cell: f"{float(cell) * 100:g}"),
    "a multiplier of ten": lambda f, _: {
        "house.toml": f["house.toml"].replace("[meter]", "[meter]\nmultiplier = 10", 1)
        if "multiplier" not in f["house.toml"] and "[meter]" in f["house.toml"]
        else f["house.toml"] + ("" if "[meter]" in f["house.toml"] else "\n[meter]\nmultiplier = 10\n")
    },
}


NOT_THE_BILLS = ("weather", "load", "price", "days and months of weather")
"""Changes of what the bills are held against, and not of the bills."""


def is_calm(answer: Reconciliation) -> bool:
    """Whether an answer says that every bill is as usual."""
    within = all(row.flag in ("within", "not-judged") for row in answer.rows)
    return answer.verdict.decision == "explained" and within


def outcome_of_meaning(before: Reconciliation, after: Reconciliation, what: str = "") -> str:
    """Say whether a change of meaning was found, was harmless, accused somebody, or passed in silence."""
    codes = [Counter(finding.code for finding in answer.findings) for answer in (before, after)]
    if codes[1] - codes[0]:
        return "found"
    if len(before.rows) == len(after.rows) and moved(before, after) is None:
        return "harmless"
    level = [sum(row.billed_kwh or 0.0 for row in answer.rows) for answer in (before, after)]
    if is_calm(after):
        same_kwh = abs(level[1] - level[0]) <= 0.02 * abs(level[0])
        return "harmless" if same_kwh and is_calm(before) else "silent"
    named = [{c.code for c in answer.causes if c.probability > 0.5} for answer in (before, after)]
    accused = (named[1] - named[0]) & {"meter-step", "meter-always", "meter-low", "constant-load", "habit-step"}
    return "accused" if accused and any(word in what for word in NOT_THE_BILLS) else "said"


# -- running ----------------------------------------------------------------------------------------------------------


IDLE_MB = 110.0
"""Memory of a process that has only loaded the program, about [MB]."""


def forget_peak() -> float:
    """Begin to count the largest memory anew, where the system can; return what is held that is not of the house [MB].

    A test runs in the process of thousands of others, whose memory is not the program's.
    """
    try:
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    except OSError:
        return 0.0
    return max(peak_mb() - IDLE_MB, 0.0)


def peak_mb() -> float:
    """Return the largest memory since, or of the whole process where the system cannot count anew [MB]."""
    try:
        status = Path("/proc/self/status").read_text(encoding="ascii")
        return float(re.findall(r"VmHWM:\s*(\d+)", status)[0]) / 1000.0
    except (OSError, IndexError):
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000.0


def attempt(path: Path, tally: Tally, seed: int, kind: str, weigh: bool) -> House | Reconciliation | None:
    """Read a house, and weigh it where asked; record whatever must not be."""
    others = forget_peak()
    begun = time.process_time()
    result: House | Reconciliation | None = None
    try:
        result = read_house(path)
        if weigh:
            result = reconcile(result)
    except InputError as refused:
        result = None
        for fault in refused.faults:
            tally.faults += 1
            if fault.row is None and fault.column is None and not any(word in fault.problem for word in WHOLE):
                tally.faults_without_place[fault.problem[:60]] += 1
    except Exception as error:
        at = [frame for frame in traceback.extract_tb(error.__traceback__) if "reconcile" in frame.filename][-1]
        tally.fail(seed, kind, f"{type(error).__name__} {str(error)[:60]} at {Path(at.filename).name}:{at.lineno}")
        tally.outcomes[f"{kind}: broke"] += 1
        return None
    took = time.process_time() - begun
    tally.longest_s = max(tally.longest_s, took)
    if took > LONGEST_S:
        tally.fail(seed, kind, f"{took:.1f} s")
    largest = peak_mb() - others
    tally.largest_mb = max(tally.largest_mb, largest)
    if largest > LARGEST_MB:
        tally.fail(seed, kind, f"{largest:.0f} MB")
    return result


def one(seed: int, tally: Tally, kinds: tuple[str, ...], weigh_share: float = 0.05) -> None:
    """Do one change, the same for the same seed."""
    dice = random.Random(seed)
    kind = dice.choice(kinds)
    place = Path(tempfile.mkdtemp())
    try:
        if kind == "torn":
            result = attempt(torn_house(dice, place), tally, seed, kind, dice.random() < weigh_share)
            tally.outcomes[f"{kind}: {'refused' if result is None else 'read'}"] += 1
        elif kind == "intervals":
            result = attempt(torn_intervals(dice, place), tally, seed, kind, dice.random() < weigh_share)
            tally.outcomes[f"{kind}: {'refused' if result is None else 'read'}"] += 1
        elif kind == "extreme":
            files = {name: text.encode() for name, text in extreme_house(seed).items()}
            result = attempt(written(place, files), tally, seed, kind, weigh=True)
            tally.outcomes[f"{kind}: {'refused' if result is None else 'answered'}"] += 1
        else:
            _compare(dice, place, tally, seed, kind)
    finally:
        shutil.rmtree(place, ignore_errors=True)


_KNOWN: dict[str, Reconciliation] = {}


def lacking(name: str, seed: int) -> str:
    """Say what of the bills a house lacks: ``read`` for readings, ``amou`` for amounts, both or neither."""
    return ("", "", "read", "amou", "read amou")[random.Random(f"{name} {seed}").randrange(5)]


def _compare(dice: random.Random, place: Path, tally: Tally, seed: int, kind: str) -> None:
    names = sorted(path.name for path in SAMPLES.iterdir() if (path / "loads.csv").exists())
    name = dice.choice(names)
    files = {p.name: p.read_text(encoding="utf-8") for p in (SAMPLES / name).iterdir() if p.name != "interval.csv"}
    for column in ("reading_start", "reading_end", "amount") if kind == "meaning" else ():
        # half of the houses have no readings or no amounts that would give a change away
        if column[:4] in lacking(name, seed):
            files["bills.csv"] = _cells(files["bills.csv"], column, lambda cell: "")
    load = _rows(files["loads.csv"])[1][0]
    first = _rows(files["bills.csv"])[3][0]
    files["events.csv"] = f"date,kind,load\n{first},repair,{load}\n"
    known = f"{name} {files['bills.csv']}"
    if known not in _KNOWN:
        whole = written(place, {key: text.encode() for key, text in files.items()})
        _KNOWN[known] = reconcile(read_house(whole))
        shutil.rmtree(whole)
    if kind == "same":
        what = dice.choice(sorted(SAME))
        targets, change = SAME[what]
        target = dice.choice([one for one in targets if one in files])
        changed = {target: change(files[target], dice)}
    else:
        what = dice.choice(sorted(MEANING))
        changed = MEANING[what](files, dice)
    path = written(place, {key: text.encode() for key, text in {**files, **changed}.items()})
    result = attempt(path, tally, seed, kind, weigh=True)
    if isinstance(result, Reconciliation):
        if kind == "same":
            what_moved = moved(_KNOWN[known], result)
            tally.outcomes[f"same: {'moved' if what_moved else 'unmoved'}"] += 1
            if what_moved:
                tally.fail(seed, kind, f"{name}, {what}: {what_moved}")
        else:
            said = outcome_of_meaning(_KNOWN[known], result, what)
            tally.outcomes[f"meaning: {said}"] += 1
            tally.meant[what, said] += 1
            if said == "silent":
                tally.fail(seed, kind, f"{name}, {what}: every bill is as usual")
            elif said == "accused":
                tally.notes.append(f"seed {seed}, {name}, {what}: a cause that the bills do not have")
    else:
        tally.outcomes[f"{kind}: refused"] += 1
        tally.meant[what, "refused"] += kind == "meaning"
        if kind == "same":
            tally.fail(seed, kind, f"{name}, {what}: refused")


def run(seeds: Iterator[int] | range, seconds: float, kinds: tuple[str, ...], weigh_share: float = 0.05) -> Tally:
    """Do changes until the time is up or the seeds are."""
    tally = Tally()
    end = time.monotonic() + seconds
    for seed in seeds:
        if time.monotonic() > end:
            break
        one(seed, tally, kinds, weigh_share)
    return tally


def main() -> int:
    """Run from the command line; exit status 1 where something must not be."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=0, help="first seed; the following ones are used in turn")
    parser.add_argument("--count", type=int, default=10**9)
    parser.add_argument("--kinds", default="torn,torn,intervals,extreme,same,meaning")
    parser.add_argument(
        "--weigh-share", type=float, default=0.05, help="share of the torn houses read that are weighed"
    )
    given = parser.parse_args()
    begun = time.monotonic()
    seeds = range(given.seed, given.seed + given.count)
    tally = run(seeds, given.seconds, tuple(given.kinds.split(",")), given.weigh_share)
    for name, count in sorted(tally.outcomes.items()):
        print(f"{count:7d}  {name}")
    largest = tally.largest_mb
    count, lacking = sum(tally.outcomes.values()), sum(tally.faults_without_place.values())
    print(f"{count} changes in {time.monotonic() - begun:.0f} s; longest {tally.longest_s:.1f} s, {largest:.0f} MB")
    print(f"{tally.faults} faults, {lacking} without row or key")
    for problem, count in tally.faults_without_place.most_common(20):
        print(f"{count:7d}  no row: {problem}")
    for what in sorted({what for what, _ in tally.meant}):
        print(f"  {what}: " + ", ".join(f"{n} {said}" for (one, said), n in sorted(tally.meant.items()) if one == what))
    for note in tally.notes:
        print(f"note: {note}")
    for failure in tally.failures:
        print(f"FAILED {failure}")
    return 1 if tally.failures else 0


if __name__ == "__main__":
    sys.exit(main())

"""Text files as they lie on the disk: bytes, encoding, and the cells of a CSV file, each with its line."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

from reconcile.read.cells import Grid
from reconcile.read.gate import Gate

LARGEST_BYTES = 64_000_000
"""Largest file that is read (two years of one-minute readings are about 30 MB; a guard, common practice)."""
LARGEST_SETTINGS = 1_000_000
"""Bytes of a file of settings (a guard, common practice)."""
MOST_ROWS = 1_200_000
"""Most rows of a table: two years of one-minute readings (a guard, common practice)."""

_UTF8_BOM = b"\xef\xbb\xbf"
_UTF16_BOMS = (b"\xff\xfe", b"\xfe\xff")


def read_bytes(path: Path, file: str, gate: Gate, most: int = LARGEST_BYTES) -> bytes | None:
    """Return the bytes of a file; None, with a fault, where it cannot be read or has more than ``most`` bytes."""
    try:
        if not path.is_file():
            gate.fault("this is not a file", "Put a file in its place.", file=file)
            return None
        with path.open("rb") as stream:
            data = stream.read(most + 1)
    except OSError as error:
        gate.fault(
            f"the file cannot be read ({error.strerror or type(error).__name__})",
            "Check its permissions and that it is not open elsewhere.",
            file=file,
        )
        return None
    if len(data) > most:
        gate.fault(
            f"the file is larger than {most // 1_000_000} MB",
            "Split it, or take out columns.",
            file=file,
        )
        return None
    return data


def decode(data: bytes, file: str, gate: Gate) -> str | None:
    """Return the text of UTF-8 bytes, with or without a byte order mark.

    Another encoding is a fault; the text is still returned where it can be guessed, so that its other faults
    come out too.
    """
    save = "Save the file as UTF-8 (in a spreadsheet program: CSV UTF-8)."
    if data.startswith(_UTF16_BOMS):
        gate.fault("this file is saved as UTF-16", save, file=file, row=1)
        text = data.decode("utf-16", errors="replace")
    else:
        try:
            text = data.removeprefix(_UTF8_BOM).decode("utf-8")
        except UnicodeDecodeError as error:
            row = data[: error.start].count(b"\n") + 1
            gate.fault("this file is not saved as UTF-8: a letter cannot be read", save, file=file, row=row)
            text = data.decode("latin-1")
    if "\x00" in text:
        gate.fault("this is not a text file", "Write a plain text file.", file=file)
        return None
    return text.replace("\r\n", "\n").replace("\r", "\n")


def read_text(path: Path, file: str, gate: Gate, most: int = LARGEST_BYTES) -> str | None:
    """Return the text of a file; None, with a fault, where there is none to be had."""
    data = read_bytes(path, file, gate, most)
    return None if data is None else decode(data, file, gate)


def read_csv(path: Path, file: str, gate: Gate) -> Grid | None:
    """Return the cells of a CSV file; None, with a fault, where it cannot be read at all."""
    text = read_text(path, file, gate)
    return None if text is None else parse_csv(text, file, gate)


def parse_csv(text: str, file: str, gate: Gate) -> Grid:
    """Return the cells of CSV text (comma, double quotes, first row the header)."""
    grid = Grid(file)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text, file, gate), strict=True)
    row = 1
    try:
        for values in reader:
            if "".join(values).strip():
                grid.rows.append((row, values))
            row = reader.line_num + 1
            if len(grid.rows) > MOST_ROWS:
                gate.fault(f"there are more than {MOST_ROWS} rows", "Split the file.", file=file, row=row)
                break
    except csv.Error as error:
        gate.fault(
            f"this line is not proper CSV ({error})",
            "Check its quotes: a cell that holds a comma or a quote stands in double quotes.",
            file=file,
            row=row,
        )
    return grid


def _delimiter(text: str, file: str, gate: Gate) -> str:
    head = next((line for line in text.split("\n", 50)[:50] if line.strip()), "")
    for sign, name in ((";", "semicolons"), ("\t", "tabs")):
        if sign in head and "," not in re.sub(r'"[^"]*"', "", head):
            gate.fault(
                f"the columns are separated by {name}",
                "Save it with commas between the columns and points for decimals.",
                file=file,
                row=1,
                read=head.strip()[:60],
            )
            return sign
    return ","

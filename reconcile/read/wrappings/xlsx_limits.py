"""What a workbook holds, counted from its XML before any library builds it in memory.

A few bytes can stand for a great deal: one merged range of a whole sheet, a million empty cells, a formula shared by
all of them, entities. Each part is counted first by its brackets, then parsed once as a stream; a document type is
refused wherever it stands, whichever parser reads the workbook afterwards.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from dataclasses import field
from xml.parsers import expat

from reconcile.read.tables.cells import shown
from reconcile.read.tables.gate import Gate
from reconcile.records import dataclass

LARGEST_UNPACKED = 60_000_000
"""Bytes a workbook may unpack to. This and the limits below are guards (common practice), set by what was measured:
a workbook at all of them is read in less than 10 s and 500 MB, and two years of quarter-hours fit in."""
MOST_PARTS = 1000
MOST_CELLS = 250_000
"""Cells of all sheets, the empty ones that carry only a format included."""
MOST_MERGED = 10_000
"""Cells under merged ranges; under links to a range likewise."""
MOST_NAMES = 2000
"""Names for ranges."""
MOST_SHARED_LETTERS = 2_000_000
"""Letters of shared formulas, counted at every cell that shares them: each is rewritten for its cell."""
MOST_OTHER = 50_000
"""Elements of a part that is no sheet and no list of texts: formats, names, drawings."""
MOST_IN_CELLS = 4
"""Elements a cell brings along on the average: its value, formula, text."""
DEEPEST = 100

_SHEET_AREA = (16_384, 1_048_576)
_RANGE = re.compile(r"\$?([A-Z]{1,3})\$?(\d{1,7})(?::\$?([A-Z]{1,3})\$?(\d{1,7}))?", re.ASCII)
_BLANK = b"\x00\xef\xbb\xbf\xfe\xff \t\r\n"
_EBCDIC = b"\x4c\x6f\xa7\x94"
_SHEETS = re.compile(r"xl/(work|chart|macro|dialog)?sheets?/", re.IGNORECASE)


class _LimitError(Exception):
    """A limit is passed: the rest of the workbook is not looked at."""

    def __init__(self, problem: str, remedy: str, row: int | None = None) -> None:
        super().__init__(problem)
        self.problem, self.remedy, self.row = problem, remedy, row


class _BrokenError(Exception):
    """No workbook that can be opened."""


@dataclass(slots=True)
class _Count:
    """What has been met so far, over all parts."""

    cells: int = 0
    merged: int = 0
    linked: int = 0
    names: int = 0
    shared_letters: int = 0
    shared: dict[tuple[str, str], int] = field(default_factory=dict)
    """Letters of the formula that a sheet's cells share, by part and index."""


def check_bytes(data: bytes, file: str, gate: Gate) -> bool:
    """Return whether a workbook is small and plain enough to be opened; record a fault where it is not.

    Parameters
    ----------
    file : str
        Its name, for the fault.

    Returns
    -------
    bool
        True where a library may open it.
    """
    part = ""
    titles: dict[str, str] = {}
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
            if len(parts) > MOST_PARTS or sum(info.file_size for info in parts) > LARGEST_UNPACKED:
                raise _LimitError(
                    f"this workbook unpacks to more than {LARGEST_UNPACKED // 1_000_000} MB or {MOST_PARTS} parts",
                    "Take out what is not a table of the house.",
                )
            names: list[str] = []
            for info in parts:
                part = info.filename
                content = archive.read(info)
                if _is_xml(part, content):
                    names.append(part)
                    _brackets(part, content)
            titles = _titles(archive)
            count = _Count()
            for part in dict.fromkeys(names):
                _parse(part, archive.read(part), count)
    except _LimitError as met:
        gate.fault(met.problem, met.remedy, file=file, sheet=titles.get(part), row=met.row)
        return False
    except Exception:  # zipfile and zlib let whatever a torn archive causes through
        gate.fault(
            "this is not a workbook that can be opened",
            "Open it in a spreadsheet program and save it anew as .xlsx, without a password.",
            file=file,
        )
        return False
    return True


def _is_xml(part: str, content: bytes) -> bool:
    """Whether any parser could take a part for XML: by its name, or by how it begins in whatever encoding."""
    if part.casefold().endswith((".xml", ".rels")):
        return True
    if part.casefold().endswith(".vml"):  # old drawings, kept as they are and never parsed
        return False
    return content[:64].lstrip(_BLANK)[:1] == b"<" or content.startswith(_EBCDIC)


def _brackets(part: str, content: bytes) -> None:
    """Count a part's elements from above, at the speed of memory."""
    most = MOST_OTHER
    if _SHEETS.match(part) or _holds_cells(content):
        most = MOST_CELLS * (1 + MOST_IN_CELLS)
    elif b"<si" in content[:100_000]:
        most = MOST_CELLS * MOST_IN_CELLS
    if content.count(b"<") > 2 * most:
        raise _too_many_cells() if most > MOST_OTHER else _crowded()


def _holds_cells(content: bytes) -> bool:
    return b"sheetData" in content[:100_000].replace(b"\x00", b"")


def _too_many_cells(row: int | None = None) -> _LimitError:
    return _LimitError(
        f"there are more than {MOST_CELLS} cells, the empty ones with a format included",
        "Delete the rows and columns beyond the table; write long interval data as interval.csv in a folder.",
        row,
    )


def _crowded() -> _LimitError:
    return _LimitError(
        f"it holds more than {MOST_OTHER} formats, names or drawings",
        "Copy the tables, values only, into a new workbook.",
    )


def _titles(archive: zipfile.ZipFile) -> dict[str, str]:
    """Return the name of each sheet by the part it stands in, as far as it can be told."""
    found: dict[str, str] = {}
    targets: dict[str, str] = {}

    def relation(name: str, attributes: dict[str, str], _: int) -> bool:
        if name == "Relationship":
            targets[attributes.get("Id", "")] = attributes.get("Target", "").lstrip("/").removeprefix("xl/")
        return False

    def sheet(name: str, attributes: dict[str, str], _: int) -> bool:
        if name == "sheet":
            given = next((value for key, value in attributes.items() if key.rpartition(":")[2] == "id"), "")
            found[f"xl/{targets.get(given, '')}"] = shown(attributes.get("name", ""))
        return False

    try:
        _stream(archive.read("xl/_rels/workbook.xml.rels"), relation)
        _stream(archive.read("xl/workbook.xml"), sheet)
    except (KeyError, _LimitError, _BrokenError):
        pass  # the parts themselves are judged afterwards
    return found


def _parse(part: str, content: bytes, count: _Count) -> None:
    """Count one part as a stream, against every limit."""
    crowd = 0
    row: int | None = None
    reading: tuple[str, str] | None = None
    sheet = _SHEETS.match(part) is not None or _holds_cells(content)
    strings = not sheet and b"<si" in content[:100_000]

    def begin(name: str, attributes: dict[str, str], depth: int) -> bool:
        nonlocal crowd, row, reading
        if depth > DEEPEST:
            raise _BrokenError
        if name == "c":
            count.cells += 1
            if count.cells > MOST_CELLS:
                raise _too_many_cells(row)
        elif name == "row":
            row = int(attributes["r"]) if attributes.get("r", "").isdecimal() else row
        elif name == "f":
            reading = (part, attributes.get("si", "")) if attributes.get("t") == "shared" else None
            if reading is None:
                return False
            count.shared_letters += count.shared.setdefault(reading, 0)
            if count.shared_letters > MOST_SHARED_LETTERS:
                raise _LimitError("its formulas are too many and too long", "Paste the values over them.", row)
        elif name == "mergeCell":
            count.merged += _area(attributes.get("ref", ""))
            if count.merged > MOST_MERGED:
                raise _too_wide("merged", attributes.get("ref", ""))
        elif name == "hyperlink":
            count.linked += _area(attributes.get("ref", ""))
            if count.linked > MOST_MERGED:
                raise _too_wide("one link", attributes.get("ref", ""))
        elif name == "definedName":
            count.names += 1
            if count.names > MOST_NAMES:
                raise _LimitError(f"there are more than {MOST_NAMES} names for ranges", "Delete them.")
        elif not sheet and not strings:
            crowd += 1
            if crowd > MOST_OTHER:
                raise _crowded()
        return name == "f" and reading is not None

    def text(letters: str) -> None:
        if reading is not None:
            count.shared[reading] += len(letters)

    _stream(content, begin, text)


def _too_wide(what: str, ref: str) -> _LimitError:
    found = _RANGE.match(ref)
    remedy = "Unmerge them and write a value in each." if what == "merged" else "Remove the link."
    return _LimitError(
        f"the cells {shown(ref)} are {what}, which is too many", remedy, int(found[2]) if found else None
    )


def _area(ref: str) -> int:
    """Return how many cells a range has; a whole sheet's where it cannot be read.

    >>> _area("A1"), _area("B2:D4"), _area("A1:XFD1048576")
    (1, 9, 17179869184)
    """
    found = _RANGE.fullmatch(ref.strip().upper())
    if not found:
        return _SHEET_AREA[0] * _SHEET_AREA[1]
    if not found[3]:
        return 1
    return (abs(_column(found[3]) - _column(found[1])) + 1) * (abs(int(found[4]) - int(found[2])) + 1)


def _column(letters: str) -> int:
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - 64
    return number


def _stream(
    content: bytes,
    begin: Callable[[str, dict[str, str], int], bool],
    text: Callable[[str], None] | None = None,
) -> None:
    """Parse XML as a stream; a document type, and whatever is not well formed, is refused.

    ``begin`` is called with each element's name without prefix, its attributes and its depth; where it returns True,
    ``text`` is called with what the element holds.
    """
    parser = expat.ParserCreate()
    parser.buffer_text = True
    local: dict[str, str] = {}
    depth = 0

    def on_begin(name: str, attributes: dict[str, str]) -> None:
        nonlocal depth
        depth += 1
        known = local.get(name)
        if known is None:
            if len(local) > MOST_OTHER:
                raise _BrokenError
            known = local[name] = name.rpartition(":")[2]
        if begin(known, attributes, depth):
            parser.CharacterDataHandler = text

    def on_end(_: str) -> None:
        nonlocal depth
        depth -= 1
        parser.CharacterDataHandler = None

    def refuse(*_: object) -> None:
        raise _BrokenError

    parser.StartElementHandler = on_begin
    parser.EndElementHandler = on_end
    parser.StartDoctypeDeclHandler = refuse
    parser.EntityDeclHandler = refuse
    try:
        parser.Parse(content, True)
    except (expat.ExpatError, LookupError, UnicodeError) as error:
        raise _BrokenError from error

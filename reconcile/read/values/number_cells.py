"""Columns of numbers as they are exported: thousands, decimal commas, blanks, and what is no number at all."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

import numpy as np

from reconcile.array_types import Bytes, Floats, Places
from reconcile.read.values.numbers import written
from reconcile.read.values.plain_blocks import block_of_cells
from reconcile.records import dataclass

BLANKS = (
    *("", "-", "--", "nan", "null", "none", "na", "n/a", "#n/a", "nodata", "no data"),
    *("missing", "unavailable", "unknown", "not available"),
)
"""Texts that stand for a missing value."""
OPEN_NUMBER = "these numbers can be read two ways"
SAY_NUMBERS = (
    'Set number_format = "1,234.56" (or "1.234,56") under [bills], or save it with a point for decimals and nothing '
    "between thousands."
)
FEW_TELL = 500
"""Cells of a column that are looked at for a comma that can only be a decimal sign (our choice)."""
LONGEST = 40
"""Characters of a number (a guard)."""

_GROUPED = re.compile(r"[+-]?[1-9]\d{0,2}(?:\.\d{3})+", re.ASCII)
_THOUSANDS = re.compile(r"\d{1,3},\d{3}", re.ASCII)
_UNIT = re.compile(r"\s*(?:(?:k|m)?wh?|v|)", re.IGNORECASE)
_UNIT_BEHIND = re.compile(r"\d\s*((?:k|m)?wh?)$", re.IGNORECASE | re.ASCII)
_IN_KWH = {"kwh": 1.0, "wh": 1e-3, "mwh": 1e3}
_MARK = re.compile(r"(.*\d)\s*[(\[]?\s*(e|a|est\.?|estimated|actual|\*)\s*[)\]]?", re.IGNORECASE)
_SPACES = str.maketrans("", "", " \u00a0\u202f'")


@dataclass(frozen=True, slots=True)
class Marks:
    """How the numbers of a file are written."""

    decimal: str = "."
    """The decimal sign, ``.`` or ``,``."""
    thousands: str = ""
    """The sign between thousands, or ``""``."""
    open: str | None = None
    """A number that could be two, where nothing in the file settles it."""


def text_of(cell: bytes) -> str:
    """Return a cell's text, stripped."""
    return cell.decode("utf-8", "replace").strip().replace("\N{MINUS SIGN}", "-")


def find_marks(cells: Iterable[str], delimiter: str) -> Marks:
    """Find the decimal sign of a file from its numbers, all of which are to be read in one way.

    Parameters
    ----------
    cells : iterable of str
        Distinct texts of its columns of numbers.
    delimiter : str
        What separates the columns: a comma in a number is a decimal sign more often where it does not.

    Examples
    --------
    >>> find_marks(["0,450", "1,200"], ";"), find_marks(["1,234.5", "7"], ","), find_marks(["1,234"], ";").open
    (Marks(decimal=',', thousands='', open=None), Marks(decimal='.', thousands=',', open=None), '1,234')
    """
    commas, dots, plain = [], [], []
    for cell in cells:
        text = _UNIT.sub("", cell).strip().strip("+-").translate(_SPACES)
        text, _ = _without_mark(text)
        if "," in text:
            commas.append(text)
        elif "." in text:
            dots.append(text)
        elif text.isdigit():
            plain.append(text)
    if not commas:
        grouped = dots and all(_GROUPED.fullmatch(text) for text in dots)
        most = max((int(text) for text in plain), default=0)
        if grouped and delimiter != "," and 100 <= most < 1000:
            return Marks(",", ".")
        if grouped and delimiter != "," and not plain and len(dots) > 1:
            return Marks(open=dots[0])
        return Marks()
    both = [text for text in commas if "." in text]
    if both:
        comma_last = [text.rindex(",") > text.rindex(".") for text in both]
        if all(comma_last):
            return Marks(",", ".")
        return Marks(".", ",")
    if any(text.count(",") > 1 for text in commas):
        return Marks(".", ",")
    if any(_THOUSANDS.fullmatch(text) is None or text.startswith("0") for text in commas):
        return Marks(",", "")
    if dots:  # 1,234 beside 0.5
        return Marks(".", ",")
    if plain and max(int(text) for text in plain) >= 100:  # 1,234 beside 987: never 987,000
        return Marks(".", ",")
    return Marks(open=commas[0])


def as_float(text: str, marks: Marks) -> float | None:
    """Return a number from its text; None where it is none, NaN where it stands for a missing value.

    Examples
    --------
    >>> as_float("1.234,5", Marks(",", ".")), as_float("0.5 kWh", Marks()), as_float("low", Marks())
    (1234.5, 0.5, None)
    """
    if text.casefold() in BLANKS:
        return float("nan")
    if len(text) > LONGEST or ("," in text and marks.decimal == "." and not marks.thousands):
        return None
    found = written(text, "," if marks.decimal == "," and (marks.thousands or "," in text) else ".")
    if found is None or found.money or found.marked or not _UNIT.fullmatch(found.tail):
        return None
    value = float(found.digits)
    return value if np.isfinite(value) else None


def as_count(text: str) -> float | None:
    """Return days or seconds that are counted, with a point or a comma before their parts; None where it is no number.

    Examples
    --------
    >>> as_count("45723,5"), as_count("1735689600"), as_count("soon")
    (45723.5, 1735689600.0, None)
    """
    value = as_float(text, Marks())
    return value if value is not None or text.count(",") != 1 else as_float(text, Marks(",", ""))


@dataclass(frozen=True, slots=True)
class Numbers:
    """A column of numbers, in its pieces."""

    values: list[Floats]
    """NaN where nothing is written."""
    wrong: list[Places]
    """Places of cells that are no number."""
    marked: list[Places]
    """Places of cells with a mark behind the number that says that it is an estimate."""
    marks: Marks
    units: tuple[str, ...] = ()
    """The units that stand behind the numbers, as ``wh``; where they are several of energy, all is in kWh."""


def read_numbers(columns: Sequence[Bytes | Floats], delimiter: str, decimal: str | None = None) -> Numbers:
    """Read the columns of numbers of a file, all by the same marks.

    Parameters
    ----------
    columns : sequence of ndarray
        Each of bytes, or of floats where the parser had no doubt.
    delimiter : str
        What separates the columns.
    decimal : str or None
        The decimal sign that the household gave, for numbers that could be two.
    """
    nowhere = np.empty(0, dtype=np.intp)
    if delimiter != ",":
        read = _comma_decimals(columns)
        if read is not None:
            return Numbers(read, [nowhere] * len(columns), [nowhere] * len(columns), Marks(",", ""))
    distinct: dict[int, tuple[list[str], Places]] = {}
    values: list[Floats] = []
    for at, column in enumerate(columns):
        plain = None if delimiter != "," and _only_thousands(column) else _plain(column)
        values.append(np.empty(0) if plain is None else plain)
        if plain is None:
            cells, place = np.unique(column, return_inverse=True)
            distinct[at] = [text_of(cell) for cell in cells.tolist()], place
    seen = sorted({text for texts, _ in distinct.values() for text in texts})
    marks = find_marks(seen, delimiter) if seen else Marks()
    if marks.open is not None and decimal is not None:
        marks = Marks(",", ".") if decimal == "," else Marks(".", ",")
    wrong, marked = [nowhere] * len(columns), [nowhere] * len(columns)
    behind = {unit for text in seen if (unit := _unit_behind(text))}
    mixed = len(behind) > 1 and behind <= set(_IN_KWH)
    for at, (texts, place) in distinct.items():
        found = [_marked_float(text, marks) for text in texts]
        if mixed:
            scales = [_IN_KWH[_unit_behind(text) or "kwh"] for text in texts]
            found = [(None if v is None else v * scale, flag) for (v, flag), scale in zip(found, scales, strict=True)]
        values[at] = np.array([np.nan if value is None else value for value, _ in found])[place]
        wrong[at] = np.flatnonzero(np.array([value is None for value, _ in found], dtype=bool)[place])
        if any(flag for _, flag in found):
            marked[at] = np.flatnonzero(np.array([flag for _, flag in found], dtype=bool)[place])
    return Numbers(values, wrong, marked, marks, ("kwh",) if mixed else tuple(sorted(behind)))


def _unit_behind(text: str) -> str | None:
    found = _UNIT_BEHIND.search(text)
    return found[1].casefold() if found else None


def _marked_float(text: str, marks: Marks) -> tuple[float | None, bool]:
    """Return a number, and whether a mark behind it says that it is an estimate."""
    value = as_float(text, marks)
    if value is not None or len(text) > LONGEST:
        return value, False
    bare, mark = _without_mark(text)
    value = as_float(bare, marks) if mark else None
    return value, value is not None and not mark.startswith("a")


def _without_mark(text: str) -> tuple[str, str]:
    """Part a number from the mark behind it, small, which says how it was read."""
    found = _MARK.fullmatch(text)
    return (text, "") if found is None else (found[1].strip(), found[2].casefold())


def _only_thousands(column: Bytes | Floats) -> bool:
    """Whether every point of a column has three digits after it: it may stand between thousands."""
    if column.dtype.kind != "S" or column.dtype.itemsize == 0 or len(column) == 0:
        return False
    letters = column.view(np.uint8).reshape(len(column), -1)
    points = letters == ord(".")
    has = points.any(axis=1)
    if not has.any():
        return False
    width = letters.shape[1]
    last = width - 1 - points[has][:, ::-1].argmax(axis=1)
    return bool(((letters[has] != 0).sum(axis=1) - 1 - last == 3).all())


def _comma_decimals(columns: Sequence[Bytes | Floats]) -> list[Floats] | None:
    """Return columns of plain numbers with commas for decimals, and no doubt of it; None where that is not so."""
    decided, values = False, []
    for column in columns:
        if column.dtype.kind != "S" or column.dtype.itemsize == 0 or len(column) == 0:
            return None
        if (column.view(np.uint8) == ord(".")).any():
            return None
        for cell in () if decided else column[:FEW_TELL].tolist():
            text = cell.decode("utf-8", "replace").lstrip("+-")
            decided = decided or ("," in text and (text[0] == "0" or _THOUSANDS.fullmatch(text) is None))
        read = block_of_cells(column.astype(np.bytes_, copy=False), ",").numbers(0)
        if read is None:
            return None
        values.append(read)
    return values if decided else None


_DIGITS = np.zeros(256, dtype=bool)
_DIGITS[[0, *b"0123456789.+-"]] = True


def _plain(column: Bytes | Floats) -> Floats | None:
    """Return a column that needs no thought; None where some cell does."""
    if column.dtype.kind == "f":
        return column.astype(np.float64, copy=False)
    if column.dtype.itemsize == 0 or not _DIGITS[column.view(np.uint8)].all() or (column == b"").any():
        return None
    values = block_of_cells(column.astype(np.bytes_, copy=False)).numbers(0)
    if values is None:
        try:
            values = column.astype(np.float64)
        except ValueError:
            return None
    return values if np.isfinite(values).all() else None

"""Bills as printed: what stands in the text of a PDF, with its page and line, for the person to confirm.

Nothing found here is used by itself: it is written as a table of bills whose rows each wait for a ``yes``.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Any, Literal

from reconcile.errors import Fault, InputError
from reconcile.read.values import dates, numbers
from reconcile.records import dataclass

What = Literal["start", "end", "kwh", "amount", "bill_date", "days", "reading_start", "reading_end", "read_type"]
COLUMNS: tuple[What, ...] = (
    *("start", "end", "kwh", "amount", "bill_date", "days"),
    *("reading_start", "reading_end", "read_type"),
)
MOST_PAGES = 200
"""Pages of one file that are looked at (a guard, common practice)."""
LONGEST_LINE = 400

_DATE = (
    r"(?:\d{4}-\d{2}-\d{2}|\d{1,2}[/.]\d{1,2}[/.]\d{2,4}|[A-Za-z]{3,9}\.? \d{1,2},? \d{4}"
    r"|\d{1,2} [A-Za-z]{3,9}\.? \d{4}"
    r"|\d{1,2}-[A-Za-z]{3}-\d{2,4})"
)
_NUMBER = r"[$€£₹]?\s?-?\d[\d.,' ]*\d|[$€£₹]?\s?\d"
_PERIOD = re.compile(rf"(?<!\w)({_DATE})\s*(?:-|–|—|to|through|thru|until)\s*({_DATE})(?!\w)", re.IGNORECASE)
_LABELS: tuple[tuple[What, re.Pattern[str]], ...] = (
    ("start", re.compile(rf"(?:service from|previous read(?:ing)? date|period start|from)\W+({_DATE})", re.IGNORECASE)),
    (
        "end",
        re.compile(rf"(?:service to|(?:current|present) read(?:ing)? date|period end|to)\W+({_DATE})", re.IGNORECASE),
    ),
    ("bill_date", re.compile(rf"(?:bill|invoice|statement|issue) date\W+({_DATE})", re.IGNORECASE)),
    ("reading_start", re.compile(rf"(?:previous|prior|opening) read(?:ing)?(?! date)\W+({_NUMBER})", re.IGNORECASE)),
    (
        "reading_end",
        re.compile(rf"(?:current|present|closing) read(?:ing)?(?! date)\W+({_NUMBER})", re.IGNORECASE),
    ),
    (
        "kwh",
        re.compile(
            rf"(?:kwh used|energy used|total usage|usage|consumption|units used)\W+({_NUMBER})"
            r"\s*(?:kwh|units)?(?!\s*kw\b)",
            re.IGNORECASE,
        ),
    ),
    ("kwh", re.compile(r"(?<![\d.,])(\d[\d.,' ]*?\d|\d)\s*kWh(?!\s*(?:/|per|x|@|at))", re.IGNORECASE)),
    (
        "amount",
        re.compile(
            r"(?:current (?:electric )?charges|total current charges|electric(?:ity)? charges|total charges)"
            rf"[^\d$€£₹]{{0,20}}({_NUMBER})",
            re.IGNORECASE,
        ),
    ),
    ("days", re.compile(r"(?:billing days|days of service|number of days|days)\W+(\d{1,3})(?!\d)", re.IGNORECASE)),
    ("days", re.compile(r"(?<!\d)(\d{1,3}) days", re.IGNORECASE)),
    ("read_type", re.compile(r"\b(?:read(?:ing)? type\W+)?(actual|estimated)(?: read(?:ing)?)?\b", re.IGNORECASE)),
)
"""Words that stand before a figure on bills (common practice), the surest first."""


@dataclass(frozen=True, slots=True)
class Found:
    """One thing found in a file: what it seems to be, as it stands there, its page and its line on the page."""

    what: What
    text: str
    page: int
    line: int


@dataclass(frozen=True, slots=True)
class PrintedBill:
    """What was found of one bill; several texts under one name are for the person to choose from."""

    file: str
    found: tuple[Found, ...]

    def texts(self, what: What) -> tuple[str, ...]:
        """Return the distinct texts found under one name, in the order of the file."""
        return tuple(dict.fromkeys(f.text for f in self.found if f.what == what))


def lines_of(path: Path) -> Iterator[tuple[int, int, str]]:
    """Yield the lines of a PDF's text layer with their page and line, both from 1.

    Raises
    ------
    InputError
        Where the file is no PDF, has no text, or the library that reads it is not installed.
    """
    try:
        import pypdf
    except ImportError:
        raise _refused(
            path, "reading a PDF needs one more library", 'Install it: pip install "reconcile[pdf-in]".'
        ) from None
    try:
        reader = pypdf.PdfReader(path)
        pages = [page.extract_text() or "" for page, _ in zip(reader.pages, range(MOST_PAGES), strict=False)]
    except Exception:  # pypdf lets whatever a torn file causes through
        raise _refused(
            path, "this is not a PDF that can be read", "Open it and save or print it as a PDF anew."
        ) from None
    if not any(text.strip() for text in pages):
        raise _refused(
            path,
            "this PDF holds pictures of text, not text",
            "Type the bills into bills.csv, or ask for PDFs with text.",
        )
    for page, text in enumerate(pages, start=1):
        for line, content in enumerate(text.splitlines(), start=1):
            yield page, line, re.sub(r"\s+", " ", content[:LONGEST_LINE]).strip()


def _refused(path: Path, problem: str, remedy: str) -> InputError:
    return InputError([Fault(path.name, problem, remedy)])


def find_printed(path: Path) -> tuple[PrintedBill, ...]:
    """Find the bills in one PDF: a table of them, or the figures of a single one.

    Raises
    ------
    InputError
        Where the file cannot be read.
    """
    lines = list(lines_of(path))
    table = _table(lines)
    if table:
        return tuple(PrintedBill(path.name, found) for found in table)
    found = tuple(_labelled(lines))
    return (PrintedBill(path.name, found),) if found else ()


def _table(lines: Sequence[tuple[int, int, str]]) -> list[tuple[Found, ...]]:
    """Find rows of one form: a period, then figures with their unit or their sign of money."""
    rows = []
    for page, line, text in lines:
        period = _PERIOD.search(text)
        rest = text[period.end() :] if period else ""
        kwh = re.search(r"(?<![\d.,])(\d[\d.,']*)\s*kWh(?!\s*(?:/|per|x|@|at))", rest, re.IGNORECASE)
        money = re.search(r"[$€£₹]\s?\d[\d.,']*", rest)
        if period and kwh:
            found = [Found("start", period[1], page, line), Found("end", period[2], page, line)]
            found.append(Found("kwh", kwh[1], page, line))
            if money:
                found.append(Found("amount", money[0], page, line))
            rows.append(tuple(found))
    return rows if len(rows) > 1 else []


def _labelled(lines: Sequence[tuple[int, int, str]]) -> list[Found]:
    """Find figures by the words beside them; what a surer word tells, a less sure one does not contradict."""
    ranked: dict[What, dict[int, list[Found]]] = {}
    for page, line, text in lines:
        period = _PERIOD.search(text)
        if period:
            ranked.setdefault("start", {}).setdefault(0, []).append(Found("start", period[1], page, line))
            ranked.setdefault("end", {}).setdefault(0, []).append(Found("end", period[2], page, line))
        for rank, (what, pattern) in enumerate(_LABELS):
            match = pattern.search(text) if not (period and what in ("start", "end")) else None
            if match:
                found = Found(what, match[1].strip(), page, line)
                ranked.setdefault(what, {}).setdefault(rank, []).append(found)
    surest = [found for by_rank in ranked.values() for found in by_rank[min(by_rank)]]
    return sorted(surest, key=lambda found: (found.page, found.line))


def table_to_confirm(bills: Sequence[PrintedBill]) -> str:
    """Return the bills as the text of ``bills.csv``, every row still to be confirmed.

    Where one thing was found with more than one text, the cell stays empty and the note names all of them with
    their page and line; so does what was not found.

    Returns
    -------
    str
        CSV with the columns of ``bills.csv`` and ``confirmed``, which says ``no``.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*COLUMNS, "confirmed", "note"])
    for bill in bills:
        cells, notes = [], []
        for what in COLUMNS:
            texts = bill.texts(what)
            values = {_value(text, what) for text in texts}
            cells.append(texts[0] if len(values) == 1 else "")
            if len(values) > 1:
                notes.append(f"{what} is one of {', '.join(_place(f) for f in bill.found if f.what == what)}")
            elif what in ("end", "kwh") and not texts:
                notes.append(f"{what} was not found")
        places = sorted({(f.page, f.line) for f in bill.found})
        where = ", ".join(f"page {page} line {line}" for page, line in places[:12])
        writer.writerow([*cells, "no", "; ".join([f"{bill.file}: {where}", *notes])])
    return out.getvalue()


def _place(found: Found) -> str:
    return f"{found.text} (page {found.page} line {found.line})"


def _value(text: str, what: What) -> Any:
    """Return what a text means, so that two spellings of one thing are not two things."""
    if what in ("start", "end", "bill_date"):
        try:
            day: date = dates.parse(text)[0]
        except dates.DateError:
            return text
        return day
    written = numbers.written(text)
    return text.casefold() if written is None else float(written.digits)

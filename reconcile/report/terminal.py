"""The answer as text for a terminal: it fits its width, and nothing in it needs colour to be read."""

from __future__ import annotations

import textwrap
import unicodedata
from typing import TYPE_CHECKING

from reconcile.report.money_view import field_test_view, money_view
from reconcile.report.view import Words, view
from reconcile.report.words import clean, glued
from reconcile.say import NOTHING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from reconcile.result import Reconciliation

NARROWEST = 40
"""Columns that are used at least."""
TABLE_FROM = 76
"""Columns from which the bills stand in a table; below, each in a sentence."""


def terminal_text(result: Reconciliation, width: int = 100, colour: bool = False, *, full: bool = True) -> str:
    """Return the answer as lines of at most ``width`` columns.

    Parameters
    ----------
    result : Reconciliation
    width : int
        Columns there are; at least 40 are used.
    colour : bool
        Print headings bold (ANSI); no meaning is lost without.
    full : bool
        Everything; else one screen: the answer, three figures, what to do first, what to say.

    Returns
    -------
    str
    """
    width = max(width, NARROWEST)
    words = view(result)
    lines: list[str] = []
    for line in (_lines if full else _short)(result, words, width):
        text = str(clean(line))
        if colour and text.startswith(_HEADING):
            lines.append(f"\x1b[1m{text.removeprefix(_HEADING)}\x1b[0m")
        else:
            lines.append(text.removeprefix(_HEADING))
    return "\n".join(lines).rstrip() + "\n"


_HEADING = "\ue000"
"""Private letter that marks a heading on the way through; it never reaches the screen."""


def _head(words: Words, width: int) -> Iterator[str]:
    if words["urgent"]:
        yield _HEADING + "*" * width
        yield from _paragraph(words["decision"].upper() + ". " + words["headline"], width, mark=_HEADING)
        if words["signs"]:
            yield from _paragraph("Reported: " + "; ".join(words["signs"]) + ".", width)
        yield _HEADING + "*" * width
        yield from _paragraph(f"{words['house']}: {words['range']}", width)
        return
    yield from _paragraph(f"{words['house']}: {words['range']}", width)
    yield ""
    yield from _paragraph(words["headline"], width, mark=_HEADING)
    yield ""
    three = words["three"]
    over = [f"{size} over usual" for size in (three["kwh"], three["money"]) if size != NOTHING]
    meter = [f"{three['meter']} chance that the meter is fast"] if three["meter"] != NOTHING else []
    yield from _paragraph(" · ".join([*over, *meter]), width)


FIRST_STEPS = 3
READ_AS, MOST_READ = " is read as: ", 3
"""What marks a notice that shows back how a table was read, and how many of these the short answer shows."""


def _short(result: Reconciliation, words: Words, width: int) -> Iterator[str]:
    """One screen: the answer, three figures, the first steps, what to say, and where the rest stands."""
    yield from _head(words, width)
    steps = words["steps"] if words["urgent"] else words["steps"][:FIRST_STEPS]
    yield from _steps({**words, "steps": steps}, width)
    left = len(words["steps"]) - len(steps)
    if left:
        yield from _paragraph(f"{left} more after these.", width, first="    ")
    if not words["urgent"]:
        yield from _heading("What to say", width)
        for line in words["phone"]:
            yield from _paragraph(line, width, first="- ", later="  ")
    yield ""
    yield from _paragraph(words["meter_line"], width)
    for notice in [notice for notice in words["notices"] if READ_AS in notice][:MOST_READ]:
        yield from _paragraph(notice, width)
    yield from _paragraph("Every bill, the reasons and the money: reconcile check --full, or report.html.", width)


def _lines(result: Reconciliation, words: Words, width: int) -> Iterator[str]:
    yield from _head(words, width)
    yield from _steps(words, width)
    if not words["urgent"]:
        yield from _heading("What to say", width)
        for line in words["phone"]:
            yield from _paragraph(line, width, first="- ", later="  ")
    if words["reasons"]:
        yield from _heading(f"Why: {words['decision'][0].lower()}{words['decision'][1:]}", width)
        for reason in words["reasons"]:
            yield from _paragraph(reason, width, first="- ", later="  ")
    yield from _money(money_view(result), width)
    yield from _bills(words["periods"], width)
    for row in words["periods"]:
        told = "; ".join(part for part in (row["read"], row["part_of"], row["why"]) if part)
        if told:
            yield from _paragraph(f"{row['dates']}: {told}", width, first="- ", later="  ")
    for finding in words["findings"]:
        yield from _finding(finding, words["findings"][0] is finding, width)
    if words["causes"]:
        yield from _heading("What could be behind it (inferences; several may act)", width)
        for cause in words["causes"][:5]:
            size = f" [{cause['size']}]" if cause["size"] else ""
            yield from _paragraph(cause["text"] + size, width, first="- ", later="  ")
    yield from _field_test(field_test_view(result), width)
    if words["measures"]:
        yield from _heading("What to measure first", width)
        for i, measure in enumerate(words["measures"], 1):
            text = f"{measure['load']}: {measure['how']}; {measure['then']}"
            yield from _paragraph(text, width, first=f"{i}. ", later="   ")
    yield from _limits(words, width)
    if words["notices"]:
        yield from _heading("What was assumed", width)
        for notice in words["notices"]:
            yield from _paragraph(notice, width, first="- ", later="  ")


def _bills(rows: Sequence[Words], width: int) -> Iterator[str]:
    if width < TABLE_FROM:
        yield from _heading("Each bill", width)
        for row in rows:
            amount = f" ({row['amount']})" if row["amount"] else ""
            over = f" {row['excess']} kWh{amount}" if row["excess"] != NOTHING else ""
            usual = f", usual {row['usual']}" if row["usual"] != NOTHING else ""
            text = f"{row['dates']}: {row['billed']} kWh{usual}; {row['word']}{over}"
            yield from _paragraph(text, width, first=f"{row['shape']} ", later="  ")
        return
    yield from _heading("Each bill (usual range: with the other bills; load list: from the list only)", width)
    yield from _table(
        ("bill", "days", "billed", "usual range", "load list", "over or under", "mark"),
        [
            (
                row["dates"],
                row["days"],
                row["billed"],
                row["usual"],
                row["listed"],
                row["excess"] + (f" ({row['amount']})" if row["amount"] else ""),
                f"{row['shape']} {row['word']}",
            )
            for row in rows
        ],
        width,
    )


def _steps(words: Words, width: int) -> Iterator[str]:
    if not words["steps"]:
        return
    yield from _heading("What to do next", width)
    for i, step in enumerate(words["steps"], 1):
        if step["new_place"]:
            yield from _paragraph(step["place"] + ":", width)
        for caution in step["cautions"]:
            yield from _paragraph(caution, width, first="   ! ", later="     ")
        optional = "Optional. " if step["optional"] else ""
        minutes = f" ({step['minutes']})" if step["minutes"] else ""
        yield from _paragraph(f"{optional}{step['text']}{minutes}", width, first=f"{i:2d}. ", later="    ")
        for outcome, then in step["would_show"]:
            yield from _paragraph(f"If {outcome}, {then}.", width, first="      - ", later="        ")


def _finding(finding: Words, first: bool, width: int) -> Iterator[str]:
    if first:
        yield from _heading("What the billing records show", width)
    yield from _paragraph(
        " ".join(part for part in (finding["text"], finding["do"]) if part), width, first="- ", later="  "
    )


def _money(words: Words | None, width: int) -> Iterator[str]:
    if words is None:
        return
    yield from _heading("The money", width)
    if words["bridge"]:
        bridge = words["bridge"]
        yield from _paragraph(bridge["sentence"], width)
    if words["told"]:
        yield from _paragraph(words["told"], width, first="- ", later="  ")
    for bill in words["apart"]:
        text = f"{bill['dates']}: billed {bill['billed']}, worked out {bill['ours']} ({bill['difference']})"
        yield from _paragraph(text, width, first="  - ", later="    ")
    for stake in words["disputed"]:
        yield from _paragraph(f"{stake['told']} ({stake['dates']})", width, first="- ", later="  ")
    for note in words["notes"]:
        yield from _paragraph(note, width, first="- ", later="  ")


def _field_test(words: Words | None, width: int) -> Iterator[str]:
    if words is None:
        return
    yield from _heading("The field test", width)
    for caution in words["cautions"]:
        yield from _paragraph(caution, width, first="! ", later="  ")
    yield from _paragraph(words["headline"], width)
    for run in words["runs"]:
        text = f"{run['label']}: registration {run['registration']}, {run['zone']}."
        yield from _paragraph(text, width, first=f"{run['shape']} ", later="  ")
    for reading in words["main_off"]:
        text = f"Main breaker off: {reading['told']}, {reading['zone']}."
        yield from _paragraph(text, width, first=f"{reading['shape']} ", later="  ")


def _limits(words: Words, width: int) -> Iterator[str]:
    visible = words["visible"]
    yield from _heading("What these bills can and cannot show", width)
    yield from _paragraph(words["meter_line"], width)
    if visible["over_confident"]:
        yield from _paragraph(
            "The bills scatter more than the limits of the list allow, so the ranges were widened.", width
        )
    data = words["interval"]
    if data:
        apart = [tie for tie in data["tie_out"] if tie["shape"] == "▲"]
        agree = sum(tie["shape"] == "●" for tie in data["tie_out"])
        told = f"Interval data: {agree} of {len(data['tie_out'])} periods add up to their bills."
        if apart:
            told += " Not: " + "; ".join(f"{tie['dates']} ({tie['difference']})" for tie in apart) + "."
        yield from _paragraph(told, width)


def _heading(text: str, width: int) -> Iterator[str]:
    yield ""
    yield from _paragraph(text, width, mark=_HEADING)


def _paragraph(text: str, width: int, *, first: str = "", later: str = "", mark: str = "") -> list[str]:
    text = glued(text.replace(_HEADING, " "))
    wrapped = textwrap.wrap(
        text,
        width if _columns(text) <= len(text) else width // 2,  # letters two columns wide
        initial_indent=first,
        subsequent_indent=later,
        break_on_hyphens=False,
    )
    return [mark + line.replace("\N{NO-BREAK SPACE}", " ") for line in wrapped]


def _columns(text: str) -> int:
    """Return the columns a terminal gives a text: two for a wide East Asian letter, none for a combining mark."""
    return sum(
        0 if unicodedata.combining(letter) else 2 if unicodedata.east_asian_width(letter) in "WF" else 1
        for letter in text
    )


def _table(header: Sequence[str], rows: Sequence[Sequence[str]], width: int) -> Iterator[str]:
    """Lay out columns two spaces apart, the first and the last to the left; leave out columns that do not fit."""
    keep = list(range(len(header)))
    while True:
        wide = [max(len(header[c]), *(_columns(row[c]) for row in rows)) if rows else len(header[c]) for c in keep]
        if sum(wide) + 2 * (len(keep) - 1) <= width or len(keep) <= 4:
            break
        keep.remove(4 if 4 in keep else keep[1])
    for row in (header, *rows):
        cells = []
        for place, c in enumerate(keep):
            cell = row[c]
            pad = " " * (wide[place] - _columns(cell))
            cells.append(cell + pad if c in (0, len(header) - 1) else pad + cell)
        yield cut("  ".join(cells).rstrip(), width)


def cut(line: str, width: int) -> str:
    """Cut a line to its width without touching the spaces that align it.

    Examples
    --------
    >>> cut("a   b   c", 6)
    'a   b…'
    """
    return line if _columns(line) <= width else line[: width - 1].rstrip() + "…"

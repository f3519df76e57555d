"""How the meter was read for a bill, in whatever column or note it is told."""

from __future__ import annotations

import re

from reconcile.read.tables.cells import Table
from reconcile.read.tables.columns import BILLS, plain_word

ESTIMATE = re.compile(r"\best(?:\.|imates?|imated|imation)?(?!\w)", re.IGNORECASE)
"""Words that say that a figure was estimated."""
_NO_ESTIMATE = re.compile(
    r"\b(?:not?|never|without|isn'?t|wasn'?t|until|instead of|after|before|since)\b[^.;]{0,20}\best", re.IGNORECASE
)
_OF_A_READING = re.compile(r"\b(?:read(?:er|ing)?|actual|meter|measured|customer|smart|remote|self)\b", re.IGNORECASE)
_SURE = frozenset(("a", "act", "actual", "e", "est", "estimate", "estimated", "c", "cust", "customer", "customerread"))
"""Words that tell how a meter was read under whatever heading; a yes or a no tells it only under one that asks."""


def how_read(table: Table) -> None:
    """Take a column for how the meter was read, by its words where its name does not tell."""
    if table.has("read_type"):
        index = table.header["readtype"]
        words = _words(table, index)
        if any(BILLS["read_type"].code(word) is None for word in words.values()) and _told(table, index, words):
            table.read_as = [line for line in table.read_as if line != f"read_type is the column {table.names[index]}"]
        return
    notes = [str(row.value("note")) for row in table.rows if not row.blank("note")] if table.has("note") else []
    if notes and all(len(note) > 2 and BILLS["read_type"].code(note) is not None for note in notes):
        return table.rename("note", "read_type")
    for index, name in enumerate(table.names):
        if not name or name not in table.unread:
            continue
        match = BILLS.match(name)
        words = _words(table, index)
        coded = [BILLS["read_type"].code(word) for word in words.values()]
        if match is not None and match.column in ("reading_end", "read_type") and coded and None not in coded:
            return table.take(index, "read_type")
        if _ticked(table, index, words) or _told(table, index, words):
            return None


def _words(table: Table, index: int) -> dict[int, str]:
    cells = {row.number: row.values[index] for row in table.rows if index < len(row.values)}
    return {number: str(value).strip() for number, value in cells.items() if value is not None and str(value).strip()}


def _told(table: Table, index: int, words: dict[int, str]) -> bool:
    """Read a column of another name, all of whose words are of how a meter is read and some of an estimate."""
    estimates = [number for number, word in words.items() if says_estimate(word)]
    others = [word for number, word in words.items() if number not in estimates]
    plain = all(plain_word(word) in _SURE or _OF_A_READING.search(word) for word in others)
    if not estimates or not plain or any(len(word) > 40 for word in words.values()):
        return False
    customer = [n for n, word in words.items() if BILLS["read_type"].code(word) == "customer"]
    kinds = {**dict.fromkeys(words, "actual"), **dict.fromkeys(customer, "customer")}
    table.add_column("read_type", kinds | dict.fromkeys(estimates, "estimated"))
    table.now_read(table.names[index])
    shown = words[estimates[0]]
    table.read_as.append(f"read_type is the column {table.names[index]}, where {shown} is an estimate")
    return True


def says_estimate(word: str) -> bool:
    """Whether words say that a figure was estimated.

    >>> says_estimate("they estimated this one"), says_estimate("not estimated"), says_estimate("E")
    (True, False, True)
    """
    return plain_word(word) == "e" or (ESTIMATE.search(word) is not None and _NO_ESTIMATE.search(word) is None)


def kind_of_bill(table: Table) -> None:
    """Take a column of words such as ``Cancelled`` for the kind of bill, not for who read the meter."""
    cells = [row["read_type"] for row in table.rows if not row.blank("read_type")] if table.has("read_type") else []
    words = [str(cell.value) for cell in cells]
    if not words or table.has("bill_type") or any(BILLS["bill_type"].code(word) is None for word in words):
        return
    if any(BILLS["read_type"].code(word) is None for word in words):
        table.rename("read_type", "bill_type")


_NO = frozenset(("0", "no", "n", "false"))
_YES = frozenset(("1", "yes", "y", "true", "x", "\N{CHECK MARK}", "\N{HEAVY CHECK MARK}", "\N{BALLOT BOX WITH CHECK}"))


def _ticked(table: Table, index: int, words: dict[int, str]) -> bool:
    """Take 1 and 0, or ticks, under ``Estimated`` for yes and no; whether it was so."""
    name = table.names[index]
    ticks = [number for number, word in words.items() if word.casefold() in _YES]
    others = [word for number, word in words.items() if number not in ticks]
    if not ticks or not ESTIMATE.match(name) or not all(word.casefold() in _NO for word in others):
        return False
    if set(words.values()) == {"1"} and len(ticks) == len(table.rows):
        return False  # a count of something
    table.add_column("read_type", dict.fromkeys(ticks, "estimated"))
    table.now_read(name)
    table.read_as.append(f"a {words[ticks[0]]} under {name} is an estimated reading")
    return True

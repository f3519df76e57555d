"""What the terminal says, in the order of the page: blocks of plain words, without a layout."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from reconcile.records import dataclass
from reconcile.report.views.first_view import sentences
from reconcile.report.views.money_view import field_test_view, money_view
from reconcile.report.views.view import Words, view
from reconcile.say import NOTHING

if TYPE_CHECKING:
    from reconcile.result import Reconciliation


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph; ``first`` stands before its first line, and its others are indented as far."""

    text: str
    first: str = ""


@dataclass(frozen=True, slots=True)
class Head:
    """A heading."""

    text: str


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer itself, or the danger that takes its place."""

    text: str
    danger: bool = False


@dataclass(frozen=True, slots=True)
class Caution:
    """A caution, its signal word first."""

    text: str
    first: str = "   ! "


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under their heads; where there is no room for columns, ``told`` says each in a sentence."""

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    told: tuple[Text, ...]
    title: str
    narrow_title: str


Block = Text | Head | Answer | Caution | Table
Blocks = Iterator[Block]

READ_AS, MOST_READ = " is read as: ", 3
LEFT_OUT = " was left out of the list"
"""What marks a notice of a line of the list that is no load."""
"""What marks a notice that shows back how a table was read, and how many of these the short answer shows."""
NOT_READ, TELLING = (
    ", not read: ",
    re.compile(r"kWh|\bthe column\b|\bthe charges\b|\bmore lines? of|[$]|cost|paid|amount", re.IGNORECASE),
)
"""What marks a notice of what was left unread, and what in it may be energy or money of a bill."""
SHORTENED = 78
"""Letters of a notice that is cut to one line of a usual screen."""
LINES = 21
"""Lines of the short answer: with the names of the files they fill no more than a screen of 24."""


def short(result: Reconciliation, height: Callable[[Block], int]) -> list[Block]:
    """Return one screen: the answer, its figures, what to do first with its cautions, signs of danger; then what fits.

    Parameters
    ----------
    height : callable
        Lines that a block takes on this screen.

    Returns
    -------
    list of Block
        A danger is told whole, whatever the screen.
    """
    words = view(result)
    if words["urgent"]:
        return [*_head(words), *_steps(words)]
    must = [*_head(words)]
    steps = words["steps"]
    needed = [step for step in steps if not step["optional"]]
    do = list(_steps({**words, "steps": (needed or steps)[:1]}, brief=True))
    signs: list[Block] = [Text(words["signs_line"], "! ")]
    shown = (needed or steps)[:1]
    left = [step for step in steps if step not in shown]
    end = list(_where(sum(not step["optional"] for step in left), sum(step["optional"] for step in left)))
    room = LINES - sum(map(height, [*must, *do, *signs, *end]))
    say = f"What to say: {words['phone'][0]}" if words["phone"] else ""
    if words["letter_ready"]:
        say = "What to say to the utility: on the page, or by reconcile letter."
    read_as = _read_as(words)
    extra: list[Block] = []
    for text in (say, *words["risk"], words["meter_line"]):
        # whole, or its first sentence; a line is kept to show back how the bills were read, but for whether to call
        first, *more = sentences(text)
        short_way = f"{first} {more[0]}" if first.endswith("?") and more else first
        ways = [Text(text)] if text in words["risk"] else [Text(text), Text(short_way)]
        kept = bool(read_as) and text != say
        block = next((way for way in ways if height(way) <= room - kept), None)
        if block is not None:
            extra.append(block)
            room -= height(block)
    for notice in read_as:
        fits = next((line for line in (Text(notice), Text(cut(notice, SHORTENED))) if height(line) <= room), None)
        if fits is not None:
            extra.append(fits)
            room -= height(fits)
    return [*must, *do, *extra, *signs, *end]


def _read_as(words: Words) -> list[str]:
    """Return what tells how the files were read: what of them was not goes first."""
    unread = [notice for notice in words["notices"] if notice.endswith("not read.") and READ_AS not in notice]
    unread += [notice for notice in words["notices"] if LEFT_OUT in notice]
    unread += [notice for notice in words["notices"] if NOT_READ in notice and TELLING.search(notice)]
    return [*unread, *(notice for notice in words["notices"] if READ_AS in notice)][:MOST_READ]


def cut(text: str, letters: int) -> str:
    """Cut a text at a word, with dots behind.

    >>> cut("the months stand in the columns", 22)
    'the months stand ...'
    """
    return text if len(text) <= letters else text[: letters - 4].rpartition(" ")[0] + " ..."


def _where(needed: int, optional: int) -> Blocks:
    more = f"{needed} more {'step' if needed == 1 else 'steps'}" if needed else ""
    if optional:
        more += f"{' and ' if more else ''}{optional} that you may leave out"
        more = more if needed else f"{optional} {'step' if optional == 1 else 'steps'} that you may leave out"
    yield Text(
        f"{more}, with cautions, and every bill: the page, or check --full."
        if more
        else "Every bill: the page, or check --full."
    )


def whole(result: Reconciliation) -> Blocks:
    """Return everything, in the order of the page, the answer once more at the end, where a screen still shows it."""
    words = view(result)
    yield from _head(words)
    if not words["urgent"]:
        yield Text(words["signs_line"], "! ")
    yield from _steps(words)
    if not words["urgent"]:
        yield Head("What to say")
        for line in (words["complain"], *words["phone"], *words["before_a_call"]):
            if line:
                yield Text(line, "- ")
    if words["reasons"]:
        yield Head(f"Why: {words['decision'][0].lower()}{words['decision'][1:]}")
        yield from (Text(reason, "- ") for reason in words["reasons"])
    if words["urgent"] and result.house.dangers:
        return
    yield from _money(money_view(result), words)
    yield _bills(words)
    for row in words["periods"]:
        told = "; ".join(part for part in (row["read"], row["pair"], row["part_of"], row["why"]) if part)
        if told:
            yield Text(f"{row['dates']}: {told}", "- ")
    if words["findings"]:
        yield Head("What the billing records show")
        for finding in words["findings"]:
            yield Text(" ".join(part for part in (finding["text"], finding["do"]) if part), "- ")
    if words["causes"]:
        yield Head("What could be behind it")
        yield from (Text(line) for line in words["chances"])
        for cause in words["causes"]:
            yield Text(cause["text"] + (f" [{cause['size']}]" if cause["size"] else ""), "- ")
    yield from _loads(words)
    yield from _limits(words)
    yield from _field_test(field_test_view(result))
    if words["notices"]:
        yield Head("What was assumed")
        yield from (Text(notice, "- ") for notice in words["notices"])
    if not words["urgent"]:
        yield Head("In short")
        yield Text(words["headline"])


def _head(words: Words) -> Blocks:
    where = Text(f"{words['house']}: {words['range']}")
    if words["urgent"]:
        yield Answer(words["decision"].upper() + ". " + words["headline"], danger=True)
        yield where
        yield from (Text(line, "! ") for line in words["danger_words"])
        return
    yield where
    yield from (Text(line, "! ") for line in (*words["site_dangers"], *words["danger_words"]))
    yield Answer(words["headline"])
    yield Text(" · ".join(f"{size} {what}" for size, what in words["figures"]))
    if words["field_line"]:
        yield Text(words["field_line"])


def _steps(words: Words, *, brief: bool = False) -> Blocks:
    if not words["steps"]:
        return
    yield Head("What to do first" if brief else "What to do next")
    for i, step in enumerate(words["steps"], 1):
        if step["new_place"] and not brief:
            yield Text(step["place"] + ":")
        for caution in step["cautions"]:
            yield Caution(caution)
        optional = "Optional. " if step["optional"] else ""
        minutes = f" ({step['minutes']})" if step["minutes"] else ""
        yield Text(f"{optional}{step['text']}{minutes}", "" if brief else f"{i:2d}. ")
        for outcome, then in () if brief else step["would_show"]:
            yield Text(f"If {outcome}, {then}.", "      - ")


def _bills(words: Words) -> Table:
    rows = words["periods"]
    told = []
    for row in rows:
        amount = f" ({row['amount']})" if row["amount"] else ""
        over = f" {row['excess']} kWh{amount}" if row["excess"] != NOTHING else ""
        usual = f", usual {row['usual']}" if row["usual"] != NOTHING else ""
        told.append(Text(f"{row['dates']}: {row['billed']} kWh{usual}; {row['word']}{over}", f"{row['shape']} "))
    cells = tuple(
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
    )
    return Table(
        ("bill", "days", "billed", "usual range", "load list only", "over or under", "mark"),
        cells,
        tuple(told),
        "Each bill (usual range: with the other bills)",
        "Each bill",
    )


def _money(money: Words | None, words: Words) -> Blocks:
    if money is None and not words["back"]:
        return
    yield Head("The money")
    for line in words["back"]:
        yield Text(line, "- ")
    for bill in words["should_cost"]:
        yield Text(
            f"{bill['dates']}: billed {bill['billed']}, at usual use about {bill['usual']}, over {bill['over']}", "- "
        )
    if money is None:
        return
    for stake in money["disputed"]:
        bridging = f" {stake['bridging']}" if stake["bridging"] else ""
        yield Text(f"{stake['told']} ({stake['dates']}){bridging}", "- ")
    if money["bridge"] and money["bridge"]["sentence"] not in words["reasons"]:
        yield Text(money["bridge"]["sentence"])
    if money["told"]:
        yield Text(money["told"], "- ")
    for bill in money["apart"]:
        yield Text(
            f"{bill['dates']}: billed {bill['billed']}, worked out {bill['ours']} ({bill['difference']})", "  - "
        )
    for note in money["notes"]:
        yield Text(note, "- ")


def _loads(words: Words) -> Blocks:
    if words["loads_sum"]:
        yield Head("The load list against the bills")
        loads, billed, apart = words["loads_sum"]
        for key, what in (("listed", "by the load list only"), ("with_bills", "with the bills")):
            left = f"billed {billed[key]} kWh, {apart[key]} kWh apart"
            yield Text(f"{loads['load']}, {what}: {loads[key]} kWh; {left}.", "- ")
        yield Text(words["loads_apart"])
    if words["measures"]:
        yield Head("What to measure first")
        for i, measure in enumerate(words["measures"], 1):
            yield Text(f"{measure['load']}: {measure['how']}; {measure['then']}", f"{i}. ")


def _field_test(words: Words | None) -> Blocks:
    if words is None:
        return
    yield Head("The field test")
    for caution in words["cautions"]:
        yield Caution(caution, "! ")
    yield Text(words["headline"])
    for run in words["runs"]:
        yield Text(f"{run['label']}: registration {run['registration']}, {run['zone']}.", f"{run['shape']} ")
    for reading in words["main_off"]:
        yield Text(f"Main breaker off: {reading['told']}, {reading['zone']}.", f"{reading['shape']} ")


def _limits(words: Words) -> Blocks:
    data = words["interval"]
    if data or words["visible"]["over_confident"]:
        yield Head("What these bills can and cannot show")  # what the meter may be was told under Why
    if words["visible"]["over_confident"]:
        yield Text("The bills scatter more than the limits of the list allow, so the ranges were widened.")
    if data:
        apart = [tie for tie in data["tie_out"] if tie["shape"] == "▲"]
        agree = sum(tie["shape"] == "●" for tie in data["tie_out"])
        covered, every = agree + len(apart), len(data["tie_out"])
        told = f"Interval data: {agree} of the {covered} bills that they cover whole add up to them."
        if covered == 0:
            told = f"Interval data, {data['from']} – {data['to']}: they cover none of the bills whole."
        elif covered == every:
            told = f"Interval data: {agree} of {every} bills add up to them."
        if apart:
            told += " Not: " + "; ".join(f"{tie['dates']} ({tie['difference']})" for tie in apart) + "."
        yield Text(told)

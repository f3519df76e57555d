"""Bills copied out of printed bills and account pages: labels and figures in lines of any order, bill after bill.

Each line gives facts: a label that names a column and the value beside or below it, a period, kWh, money. The lines are
parted into bills at those that come again with each period. Of two figures that may be the same thing none is chosen.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

from reconcile.read.tables.bare_lines import ONE_DATE, dials, with_years, without_unit
from reconcile.read.tables.cells import Grid, Relaid
from reconcile.read.tables.columns import DAYS, Columns, is_another
from reconcile.read.tables.pasted_bill import NO_KWH, Fact, bill_of
from reconcile.read.values import numbers
from reconcile.read.values.bare_days import BARE_DATE, DATE, MONTH
from reconcile.read.values.month_names import MONTHS as ENGLISH
from reconcile.read.values.month_names import month_number

MOST_LINES, LONGEST_LINE = 5000, 400
"""Lines of a text, and letters of a line, that are looked at (a guard)."""
WANTED = (
    "Write each bill as a block of lines such as: Service period: Oct 22, 2024 - Nov 21, 2024 / kWh used: 1152 / "
    "Current charges: 170.02 (each part on a line of its own, an empty line between two bills)."
)
"""One bill as it is read for sure."""
_OF_KWH = re.compile(r"kwh|kilowatt|usage|energy used", re.IGNORECASE)
_MORE_NAMES = {
    **dict.fromkeys(("previous", "prior", "last"), "reading_start"),
    **dict.fromkeys(("present", "current", "this"), "reading_end"),
}
"""What stands over columns of readings in the small table of a meter."""

_UNTIL = r"\b(?:to|through|thru|until|till|au|bis|al|hasta|tot)\b"
_BETWEEN = rf"\s*(?:->|\N{{RIGHTWARDS ARROW}}|-|\N{{EN DASH}}|\N{{EM DASH}}|{_UNTIL})\s*"
_PERIOD = re.compile(
    rf"(?<![\w/.-])(?P<first>{DATE}|{BARE_DATE}){_BETWEEN}(?:to:?\s*)?(?P<second>{DATE}|{BARE_DATE})",
    re.IGNORECASE,
)
SPAN = re.compile(rf"(?:from )?(?:{DATE}|{BARE_DATE}){_BETWEEN}(?:{DATE})(?![\w/])", re.IGNORECASE)
"""Two days with a word or a dash between them."""
_YEAR_COMMA = re.compile(r"(?<![\d.,])((?:19|20)\d\d),(?=\d)")
"""A year and what a comma parts from it: ``Feb 2024,500 kWh``."""
_MONTH_ALONE = re.compile(rf"^({MONTH})(?=\s*[:,-]?\s*\d[\d,.]*\s*kwh)", re.IGNORECASE)
MONTH_YEAR = re.compile(rf"(?<![\w/.-])({MONTH})[ ,/-]{{0,2}}'?((?:19|20)\d\d|\d\d)(?![\w/-])", re.IGNORECASE)
_DAYS = (("period", _PERIOD), ("day", ONE_DATE), ("month", _MONTH_ALONE), ("month", MONTH_YEAR))
_SIGN = r"[$\N{EURO SIGN}\N{POUND SIGN}\N{INDIAN RUPEE SIGN}]|USD|EUR|GBP|INR|AUD|CAD|NZD"
_NUMBER = re.compile(
    rf"(?<![\w.,/-])(?P<text>-?(?:(?:{_SIGN})\s*)?-?(?:\d[\d.,']*\d|\d)(?:\s?CR\b)?)"
    r"(?P<unit>\s*(?:\(?kwhs?\)?|kilowatt[ -]hours?|mwh|kw|units|%|therms?|ccf|gallons?|\N{DEGREE SIGN} ?[FC]?|"
    r"(?:degrees )?[FC]\b|(?:billing |service )?days?(?: of service)?))?(?![\w-])",
    re.IGNORECASE,
)
_OF_MONEY = re.compile(rf"{_SIGN}|\d[.,]\d\d$|CR$", re.IGNORECASE)
_RATED = re.compile(r"\s*(?:@|/(?! ?(?:[$\N{EURO SIGN}\N{POUND SIGN}] ?)?\d)|x\b|\*|\bat\b|\bper\b)", re.IGNORECASE)
_A_DAY = re.compile(r"\s*(?:/|per)\s*(?:day|d\b|month|mo\b)", re.IGNORECASE)
_LEADING = re.compile(r"^(?:your|you|the|my|our|this|for|of|in|and|plus)\s+", re.IGNORECASE)
_TRAILING = re.compile(r"\s+(?:by|on|of|for|is|was|are|this bill|today)$", re.IGNORECASE)
_DASHES = r"\N{BULLET}\N{EN DASH}\N{EM DASH}-"
_EDGES = re.compile(rf"^[\s.,:;=|*#()/{_DASHES}]+|[\s.,:;=|*#(/{_DASHES}]+$")
_OF_USE = re.compile(
    r"\b(?:electric\w*|energy|power|usage|us(?:ed?|es)|consum\w*|total|service|period|difference|meter|bill\w*|k\.?wh|kilo\w*|"
    r"tier|block|step|dates?|reading)\b",
    re.IGNORECASE,
)
"""Words beside kWh that are rather those of the bill: solar credits and carbon are not."""
_SAID = re.compile(r"(?:(?:was|is|were|are|it|we|i|used|had)\b\s*)+", re.IGNORECASE)
_SERVICE = re.compile(r"\b(?:gas|water|sewer|heat)\b", re.IGNORECASE)
"""Services whose units are no kWh."""
_OF_COST = re.compile(
    r"(?:(?:and|it|that|this|we|i|for|of|was|is|a|the|your|our|my|new|electric|electricity|power|bill|cost|costs|charged|paid|price|total|came|to|avg\.?|average|"
    r"kwh ?/ ?day|/ ?day|kwh per day|kwh|us|at|in|all|per|day)[\s,:|/-]*)+",
    re.IGNORECASE,
)
"""Words that may stand before the one sum of a bill in a sentence of one's own."""
_MONTHS = re.compile(rf"\b(?:{'|'.join(name[:3] + '(?:' + name[3:] + ')?' for name in ENGLISH)})\b\s*", re.IGNORECASE)
_ELECTRIC = re.compile(r"(?:your )?(?:electric|electricity|electric service)", re.IGNORECASE)
"""The line of electricity on a bill of several services."""
_HOW_READ = re.compile(r"\b(actual|estimated|estimate|customer read)\b|\((e|a)\)", re.IGNORECASE)
_RISE = re.compile(r"[+\N{BLACK UP-POINTING TRIANGLE}\N{BLACK DOWN-POINTING TRIANGLE}\u2191\u2193]\s*(?=\d[\d.,]*\s*%)")
"""What stands before the per cent by which a bill rose."""
_PIECES = re.compile(r"\t+| {2,}")


def lines_of(grid: Grid) -> list[tuple[int, str]]:
    """Return the lines of a grid as they stood, with their numbers; empty ones too."""
    if grid.text:
        whole = enumerate(grid.text.split("\n")[: MOST_LINES + 1], start=1)
        lines = [(n, part) for n, line in whole for part in _sentences(_YEAR_COMMA.sub(r"\1, ", line))]
        if len({n for n, _ in lines}) < len(lines):  # each sentence is a line of its own then
            lines = [(n, part) for n, (_, part) in enumerate(lines, start=1)]
    else:
        lines = [
            (n, "   ".join("" if v is None else str(v) for v in values)) for n, values in grid.rows[: MOST_LINES + 1]
        ]
    plain = [(n, re.sub(r"^(?:\s*>)+\s?", "", line).replace("\t", "   ")) for n, line in lines]  # of quoted mail
    plain = [(n, _RISE.sub("", line)) for n, line in plain]
    return [(n, numbers.tidy(line) if len(line) <= LONGEST_LINE else "") for n, line in plain]


def read_pasted(grid: Grid, spec: Columns) -> Relaid | None:
    """Return the bills of a text that is no table; None where it tells nothing of any.

    Parameters
    ----------
    spec : Columns
        What the labels may be.
    """
    lines = with_years(lines_of(grid))
    if not lines or len(lines) > MOST_LINES:
        return None
    facts = list(_facts(lines, spec))
    if not any(fact.column in DAYS for fact in facts):  # pages of an account: a day alone above each bill is its own
        lone = [(n, match) for n, line in lines if (match := ONE_DATE.fullmatch(line.strip()))]
        facts = sorted([*facts, *(Fact(n, "bill_date", match[0], 1) for n, match in lone)], key=lambda fact: fact.line)
    found = Relaid(Grid(grid.file, grid.sheet), ["each block of lines is a bill"], of_text=True)
    if shown := dials(lines):
        facts, found.told[:] = shown, ["each line is a reading of the meter"]
    read = any(fact.column in ("kwh", "reading_start", "reading_end", "delivered_kwh") for fact in facts)
    if not read and (bare := without_unit(lines)):
        facts, found.told[:] = bare, ["each line is a bill; the figure without a unit beside its money is its kWh"]
    if not any(fact.column == "kwh" or fact.column in DAYS for fact in facts):
        return None
    blocks = _blocks(facts, lines)
    rows: list[tuple[int, dict[str, str]]] = []
    for block, first, last in blocks:
        text = " ".join(line for number, line in lines if first <= number <= last)
        cells, problem = bill_of(block, text, found)
        at = next((fact.line for fact in block if fact.column in DAYS), block[0].line)
        if problem is not None:
            own = [(number, line) for number, line in lines if first <= number <= last]
            told = next((pair for pair in own if _OF_KWH.search(pair[1])), None) if problem == NO_KWH else None
            found.problems.append((at, problem, None) if told is None else (told[0], problem, told[1]))
        rows.append((at, cells))
    if 2 * len(found.problems) > len(blocks):  # it is not a slip here or there, but the form that is not understood
        del found.problems[1:]
    names = [name for name in spec.names if any(name in cells for _, cells in rows)]
    heads = ["total due" if name == "amount_due" and "amount" not in names else name for name in names]
    body: list[tuple[int, Sequence[Any]]] = [(number, [cells.get(name) for name in names]) for number, cells in rows]
    found.grid.rows = [(blocks[0][1], heads), *body]
    used = {fact.line for fact in facts}
    others = [line for number, line in lines if line and number not in used]
    if others:
        found.left.append(
            f"{len(others)} more line{'s' if len(others) > 1 else ''} of the text, such as {others[0][:40]}"
        )
    return found


def _sentences(line: str) -> list[str]:
    """Part a line that holds several sentences of kWh into these."""
    several = line.casefold().count("kwh") > 1 and ". " in line
    return re.split(r"(?<=\w)[.;] +(?=[^\W\d_a-z])", line) if several else [line]


def is_laid_out(grid: Grid, spec: Columns) -> bool:
    """Whether a text is lines of bills though a row of it names columns, as of a table: few lines are like that row."""
    rows = [["" if value is None else str(value).strip() for value in values] for _, values in grid.rows]
    heads = [at for at, cells in enumerate(rows) if len(cells) > 1 and _columns(cells, spec)]
    if not heads or not grid.text:
        return False
    width, like = len(rows[heads[0]]), 0
    for at in heads:
        like += 1
        for cells in rows[at + 1 :]:
            if _columns(cells, spec) or not (len(cells) == width or sum(map(bool, cells)) >= max(width - 1, 3)):
                break
            like += 1
    return like < (0.6 if len(heads) < 3 else 0.9) * len(rows)


def _columns(parts: Sequence[str], spec: Columns) -> list[str]:
    """Return the columns that the pieces of a line name, where most of them do: it is the head of a small table."""
    if any(re.search(r"\d", part) for part in parts):
        return []
    found = [_column(part, spec) or _MORE_NAMES.get(part.strip().casefold(), "") for part in parts]
    return found if sum(map(bool, found)) >= max(2, len(parts) // 2) else []


def _fit(heads: Sequence[str], parts: Sequence[str], spec: Columns) -> bool:
    """Whether the pieces of a line may be the values of the columns over them: a period is no charge, a word no kWh."""
    figures = [part for name, part in zip(heads, parts, strict=True) if name and spec[name].kind in ("number", "money")]
    return all(_NUMBER.match(part) and ONE_DATE.search(part) is None for part in figures)


def _column(label: str, spec: Columns) -> str | None:
    """Return the column that a label names; what stands in brackets behind it says how, not what."""
    label = re.sub(r"\([^()]*\)", " ", label).strip()
    for text in (label, _LEADING.sub("", label), _TRAILING.sub("", _LEADING.sub("", label))):
        match = spec.match(text) if text and len(text) <= 60 else None
        if match is not None:
            return match.column
    return None


def _facts(lines: Sequence[tuple[int, str]], spec: Columns) -> Iterator[Fact]:
    pending = ""
    heads: list[str] = []
    shown = _of_dials(lines)
    for number, line in lines:
        if number in shown:
            yield from shown[number]
            continue
        parts = _PIECES.split(line)
        if heads and len(parts) == len(heads) and _fit(heads, parts, spec):
            yield from (Fact(number, column, part, 0) for column, part in zip(heads, parts, strict=True) if column)
            heads = []
            continue
        heads = _columns(parts, spec) if len(parts) > 1 else []
        if heads:
            continue
        found = list(_of_line(number, line, pending, spec))
        yield from found
        if any(fact.column == "kwh" for fact in found) and not any(fact.column in DAYS for fact in found):
            yield from _day_beside(number, line)
        bare = not re.search(r"\d", line)
        if bare and ":" in line:
            label, _, word = line.partition(":")
            column = _column(_EDGES.sub("", label), spec)
            if column in ("read_type", "bill_type") and spec[column].code(word) is not None:
                yield Fact(number, column, word.strip(), 0)
        pending = _EDGES.sub("", line) if bare and _column(_EDGES.sub("", line), spec) else ""


_DIAL = re.compile(rf"\W*(?P<day>{DATE})\W+(?P<how>actual|estimated?|customer)\W+(?P<shown>\d[\d,]*)\W*", re.IGNORECASE)


def _of_dials(lines: Sequence[tuple[int, str]]) -> dict[int, list[Fact]]:
    """Return the facts of two lines one below the other that tell a day, how the meter was read, and what it showed."""
    told = {number: match for number, line in lines if (match := _DIAL.fullmatch(line)) is not None}
    found: dict[int, list[Fact]] = {}
    for number, match in told.items():
        other = told.get(number + 1)
        if other is None or number in found:
            continue
        newest_first = (numbers.figure(match["shown"], ".") or 0.0) > (numbers.figure(other["shown"], ".") or 0.0)
        for at, one, closes in ((number, match, newest_first), (number + 1, other, not newest_first)):
            columns = ("end", "reading_end", "read_type") if closes else ("start", "reading_start", "read_type_start")
            texts = (one["day"], one["shown"], one["how"])
            found[at] = [Fact(at, column, text, 0) for column, text in zip(columns, texts, strict=True)]
    return found


def _day_beside(number: int, line: str) -> Iterator[Fact]:
    """Yield the one day or month that stands in a line of kWh, whatever words are about it."""
    days = {match[0] for match in ONE_DATE.finditer(line)}
    months = {match[0] for match in MONTH_YEAR.finditer(line) if month_number(match[1])} if not days else set()
    if len(days | months) == 1 and not re.search(
        r"\b(?:due|next|last|previous|compare\w*|since)\b", line, re.IGNORECASE
    ):
        yield Fact(number, "bill_date" if days else "month", (days | months).pop(), 2)


def _of_line(number: int, line: str, pending: str, spec: Columns) -> Iterator[Fact]:
    """Yield what one line tells; ``pending`` is the label on the line above it."""
    at, label, after_kwh = 0, pending, False
    sums: list[Fact] = []
    while (found := _next(line, at)) is not None:
        kind, text, unit, begin, end = found
        between = _EDGES.sub("", line[at:begin])
        if between:
            label = between
        elif after_kwh and _OF_MONEY.search(text):
            label = ""  # what stands over the kWh beside it is not its own
        told = [*_told(number, kind, text, unit, label, line[end:], spec)]
        if "=" in line[at:begin] and _OF_MONEY.search(text) and label in ("", "+"):
            sums = [Fact(number, "amount", text, 9)]  # a price times kWh is one, and with the fixed charges the next
        else:
            yield from told
        rated = _RATED.match(line[end:]) is not None and _A_DAY.match(line[end:]) is None
        after_kwh = unit.startswith("kwh") and not rated  # kWh at a price and their money are a line of charges
        if kind == "number" and unit and rated:  # what stands behind @ is a price
            price = _NUMBER.search(line, end)
            end = price.end() if price else end
            label = re.sub(r"\d.*", "", label)
        if kind != "number" and _column(label, spec) in DAYS:
            label = ""  # it is that of the days, not of what stands behind them
        at = end
    yield from sums


def _next(line: str, at: int) -> tuple[str, str, str, int, int] | None:
    """Return the next value of a line: its kind, text, unit and place."""
    found: list[tuple[int, int, str, str, str, int]] = []
    for rank, (kind, pattern) in enumerate(_DAYS):
        for match in pattern.finditer(line, at):
            names = re.findall(r"[A-Za-z]{3,}", re.sub(_BETWEEN, " ", match[0]))
            if all(month_number(name) or name in ("st", "nd", "rd", "th") for name in names):
                text = f"{match['first']} - {match['second']}" if kind == "period" else match[0]
                found.append((match.start(), rank, kind, text, "", match.end()))
                break
    figure = _NUMBER.search(line, at)
    if figure is not None:
        unit = (figure["unit"] or "").strip(" ()").casefold()
        found.append((figure.start(), 9, "number", figure["text"], unit, figure.end()))
    if not found:
        return None
    begin, _, kind, text, unit, end = min(found)
    return kind, text, unit, begin, end


def _told(number: int, kind: str, text: str, unit: str, label: str, behind: str, spec: Columns) -> Iterator[Fact]:
    column = _column(label, spec)
    another = is_another(label) or bool(re.search(r"\b(?:year|compare|next|due|last)\b", label, re.IGNORECASE))
    if kind == "period":
        if not another:
            yield Fact(number, "period", text, 0 if column in DAYS else 1, label)
        return
    if kind in ("day", "month"):
        of_reading = {"reading_start": "start", "reading_end": "end"}
        name = of_reading.get(column or "", column)
        if kind == "day" and name in ("start", "end", "bill_date"):
            yield Fact(number, name, text, 0, label)
        elif kind == "month" and (name == "month" or not label):
            yield Fact(number, "month", text, 0 if name == "month" else 1, label)
        return
    money = _OF_MONEY.search(text) is not None
    if column is None and not unit and not money:
        column = _MORE_NAMES.get(label.casefold())
    if unit.startswith(("kwh", "kilowatt", "mwh")) or (unit == "units" and not _SERVICE.search(label)):
        whole = f"{text} {'MWh' if unit == 'mwh' else 'kWh'}"
        if column in ("kwh", "delivered_kwh", "received_kwh") and not _RATED.match(behind):
            yield Fact(number, column, whole, 0, label)
        elif not money and column not in ("reading_start", "reading_end"):
            stepped = _RATED.match(behind) or re.search("tier|block|step", label, re.IGNORECASE)
            rank = (
                3
                if another or not (_OF_USE.search(label) or _OF_COST.fullmatch(label or "a"))
                else 2
                if stepped or unit == "units"
                else 1
            )
            yield Fact(number, "kwh", whole, rank, label)
        return
    if unit.endswith(("days", "day", "days of service")):
        yield Fact(number, "days", text, 0 if column == "days" else 1, label)
        return
    if column is None:
        if money and _ELECTRIC.fullmatch(label):
            yield Fact(number, "amount", text, 0, label)
        elif (money and (not label or _OF_COST.fullmatch(_MONTHS.sub("", label)))) or (
            not label and re.fullmatch(r"\d+[.,]\d", text)
        ):
            yield Fact(number, "amount", text, 9)
        return
    kinds = spec[column].kind
    if column == "mean_temperature":
        yield Fact(number, column, f"{text} {unit[-1:].upper()}".strip(), 0, label)
    elif unit or (_RATED.match(behind) and kinds == "number"):
        return
    elif kinds == "money" and (money or column == "amount"):
        yield Fact(number, column, text, 0 if money else 5, label)  # Bill 1 may be the first
    elif kinds == "number" and not money:
        yield Fact(number, column, text, 0, label)
        how = _HOW_READ.search(label) or _HOW_READ.match(behind.strip()) or _HOW_READ.match(behind.strip(" ()"))
        if how is not None and column in ("reading_start", "reading_end"):
            yield Fact(number, "read_type" if column == "reading_end" else "read_type_start", how[1] or how[2], 0)
    elif column == "meter" and not money:
        yield Fact(number, column, text, 0, label)


def _blocks(facts: Sequence[Fact], lines: Sequence[tuple[int, str]]) -> list[tuple[list[Fact], int, int]]:
    """Part the facts into bills; each with its first and last line."""
    counts = Counter(fact.column for fact in facts if fact.column in DAYS)
    key = max(DAYS, key=lambda name: (counts[name] if name != "bill_date" else 0, -DAYS.index(name)))
    key = key if counts[key] else "bill_date" if counts["bill_date"] else "kwh"
    marks: list[Fact] = []
    for fact in facts:
        if fact.column == key and (not marks or fact.text != marks[-1].text):
            marks.append(fact)
    starts = _starts([mark.line for mark in marks], lines) if len(marks) > 1 else [0]
    starts[0] = lines[0][0]
    ends = [*(start - 1 for start in starts[1:]), lines[-1][0]]
    parted = [([f for f in facts if a <= f.line <= b], a, b) for a, b in zip(starts, ends, strict=True)]
    return [block for block in parted if block[0]]


def _starts(marks: Sequence[int], lines: Sequence[tuple[int, str]]) -> list[int]:
    """Return the first line of each bill: of paragraphs with one mark, else a line that comes before each mark."""
    heads, before = [], ""
    for number, line in lines:
        if line and not before:
            heads.append(number)
        before = line
    held = [
        [mark for mark in marks if a <= mark < b] for a, b in zip(heads, [*heads[1:], lines[-1][0] + 1], strict=True)
    ]
    full = [n for n, inside in enumerate(held) if inside]
    if all(len(held[n]) == 1 for n in full) and full == list(range(full[0], full[0] + len(marks))):
        return [heads[n] for n in full]
    alike: dict[str, list[int]] = {}
    for number, line in lines:
        if line:
            alike.setdefault(_shape(line), []).append(number)
    edges = [0, *marks]
    fitting = [
        at
        for at in alike.values()
        if len(at) == len(marks) and all(edges[n] < line <= edges[n + 1] for n, line in enumerate(at))
    ]
    return min(fitting, default=list(marks), key=lambda at: at[0])


def _shape(line: str) -> str:
    """Return a line without what changes from bill to bill."""
    words = [("M" if month_number(word.strip(".,")) else word) for word in re.sub(r"[\d.,]+", "0", line).split()]
    return " ".join(words)

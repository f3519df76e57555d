"""Settle how a whole table writes its dates and numbers, ask once where it leaves two readings, and tell it back."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import pairwise
from statistics import median
from typing import Any

from reconcile.read.tables.cells import Cell, Row, Table
from reconcile.read.tables.columns import Column, Columns
from reconcile.read.tables.gate import Gate
from reconcile.read.values import dates, numbers
from reconcile.read.values.numbers import CURRENCIES, OF_SEVERAL

Test = Callable[[Table], float]
"""How well a table agrees with itself as its habits now read it: 1.0 where nothing speaks against it."""
MOST_ODD = 0.3
"""Part of the rows that may be odd under the one way of writing dates that makes the others plain (our choice)."""
Tell = Callable[[Row], str]
"""What a row is under the habits of its table, in a few words."""

_DOTTED = re.compile(r"\d\d\.\d\d\.\d{4}")
"""``01.06.2024``: with points and leading zeros the day stands first (common practice)."""
FEW = 100.0
"""Ratio beyond which two bills of one table are not of one decimal sign (common practice)."""
BTU_A_WATT = 400.0
"""By which the size of a cooler is divided to be held against usual watts: none has less than 1200 BTU/h."""
GROUPED = "1,234.56"
MOST_TOLD = 12
"""Things of one kind that a notice lists before it only counts the rest."""


def _always(table: Table) -> float:
    return 1.0


def settle(table: Table, spec: Columns, gate: Gate, test: Test = _always, tell: Tell | None = None) -> bool:
    """Set ``table.habits``; False where a question had to be asked, and no row may be read.

    Parameters
    ----------
    gate : Gate
        Its ``date_format`` and ``number_format`` go first.
    test : callable
        Judges the table under the habits just set, by what it says of itself.
    tell : callable
        Works out the first case of a question.
    """
    tell = tell or (lambda row: _first_day(row, spec, gate))
    return _order(table, spec, gate, test, tell) and _decimal(table, spec, gate, test, tell)


def _first_day(row: Row, spec: Columns, gate: Gate) -> str:
    """Say the first date of a row under its table's habits, or else nothing of it."""
    for column in spec:
        cell = row[column.name]
        if column.kind == "day" and isinstance(cell.value, str) and dates.orders_of(cell.value):
            return f"the day {dates.parse(cell.value, None, row.table.habits.order)[0]}"
    return f"row {row.number}"


def _texts(table: Table, spec: Columns, kinds: tuple[str, ...]) -> Iterator[tuple[Row, Column, str]]:
    columns = [column for column in spec if column.kind in kinds and table.has(column.name)]
    for row in table.rows:
        for column in columns:
            value = row.value(column.name)
            if isinstance(value, str) and value.strip():
                yield row, column, value.strip()


def _order(table: Table, spec: Columns, gate: Gate, test: Test, tell: Tell) -> bool:
    cells = [
        (row, column, part)
        for row, column, text in _texts(table, spec, ("day", "period"))
        for part in ((dates.period_ends(text) if column.kind == "period" else None) or (text, ""))[:2]
        if dates.orders_of(part)
    ]
    if not cells or gate.date_format is not None:
        return True
    possible: list[dates.Order] = ["dmy", "mdy"]
    if any(len(dates.orders_of(part)) == 3 for _, _, part in cells):
        possible.append("ymd")
    parsed = [order for order in possible if all(_is_day(part, order) for _, _, part in cells)]
    if not parsed:
        counts = {order: sum(_is_day(part, order) for _, _, part in cells) for order in possible}
        most = max(counts.values())
        table.habits = replace(table.habits, order=next(order for order in possible if counts[order] == most))
        return True  # the dates that cannot be read so are told one by one
    by_excel = _half_turned(table, spec, parsed)
    if by_excel is not None:
        gate.wrong(
            by_excel,
            "a spreadsheet program has read some dates of this table with day and month exchanged, and left others "
            "as text",
            "Import the file anew with its dates as text, or write them all as 2025-03-07.",
        )
        return False
    if len({tuple(dates.parse(part, None, order)[0] for _, _, part in cells) for order in parsed}) == 1:
        parsed = parsed[:1]
    standing = _standing(table, "order", parsed, test) if len(parsed) > 1 else parsed
    if gate.bills_order in standing:
        standing = [gate.bills_order]
    if "dmy" in standing and all(_DOTTED.fullmatch(part) for _, _, part in cells):
        standing = ["dmy"]
    if len(standing) == 1:
        order = standing[0]
        table.habits = replace(table.habits, order=order)
        part = cells[0][2]
        table.read_as.append(f"{part} is {dates.parse(part, None, order)[0].isoformat()}, {dates.ORDER_WORDS[order]}")
        return True
    row, column, part = next(
        (cell for cell in cells if len({dates.parse(cell[2], None, order)[0] for order in standing}) > 1), cells[0]
    )
    told = []
    for order in standing:
        table.habits = replace(table.habits, order=order)
        told.append(f"{_form(part, order)} makes it {tell(row)}")
    table.habits = replace(table.habits, order=None)
    gate.wrong(
        row[column.name],
        f"the dates of this table can be read in more than one way: {'; '.join(told)}",
        gate.ask("date_format", [_form(part, order) for order in standing], table),
    )
    return False


def _is_day(part: str, order: dates.Order) -> bool:
    try:
        dates.parse(part, None, order)
    except dates.DateError:
        return False
    return True


def _form(part: str, order: dates.Order) -> str:
    """Return the ``date_format`` of a text under one order."""
    sign = next(letter for letter in part if not letter.isdigit())
    names = {"d": "DD", "m": "MM", "y": "YY" if len(dates.orders_of(part)) == 3 else "YYYY"}
    return sign.join(names[letter] for letter in order)


def _half_turned(table: Table, spec: Columns, parsed: list[dates.Order]) -> Cell | None:
    """Find the trace of dates turned about on import: typed ones with small days, the others text with large ones."""
    from datetime import date

    for column in spec:
        if column.kind != "day" or not table.has(column.name):
            continue
        cells = [row[column.name] for row in table.rows]
        typed = [cell for cell in cells if isinstance(cell.value, date)]
        texts = [cell for cell in cells if isinstance(cell.value, str) and dates.orders_of(cell.value)]
        if len(typed) >= 2 and texts and all(cell.value.day <= 12 for cell in typed):
            days = [dates.parse(cell.value, None, parsed[0])[0].day for cell in texts]
            if all(day > 12 for day in days):
                return typed[0]
    return None


def _decimal(table: Table, spec: Columns, gate: Gate, test: Test, tell: Tell) -> bool:
    if gate.number_format is not None:
        table.habits = replace(table.habits, decimal=gate.number_format)
        return True
    cells = list(_texts(table, spec, ("number", "money")))
    times = Counter(text for _, _, text in cells)
    signs: tuple[numbers.Decimal, ...] = (".", ",")
    counts = {sign: sum(n for text, n in times.items() if numbers.written(text, sign) is not None) for sign in signs}
    opens = any(map(numbers.is_open, times))
    if counts["."] != counts[","]:
        table.habits = replace(table.habits, decimal=max(signs, key=lambda sign: counts[sign]))
        if opens and not _usual(table, spec) and not _paid_alike(table, spec):
            return _open_decimal(table, spec, gate, test, tell, cells, at_odds=True)
    elif opens:
        return _open_decimal(table, spec, gate, test, tell, cells)
    if table.habits.decimal == "," or any("," in text for _, _, text in cells):
        _told(table, cells)
    return True


def _told(table: Table, cells: list[tuple[Row, Column, str]]) -> None:
    """Say how one number was read: the one that shows most."""
    found = [
        (len(text), text, written.digits)
        for _, _, text in cells
        if ("," in text or "." in text) and (written := numbers.written(text, table.habits.decimal)) is not None
    ]
    if found:
        _, text, digits = max(found)
        table.read_as.append(f"{text} is the number {digits}")


def _open_decimal(
    table: Table,
    spec: Columns,
    gate: Gate,
    test: Test,
    tell: Tell,
    cells: list[tuple[Row, Column, str]],
    at_odds: bool = False,
) -> bool:
    """Settle numbers that mean two things; ``at_odds`` where the other numbers' sign makes these ones odd."""
    opens = [cell for cell in cells if numbers.is_open(cell[2])]
    standing: list[numbers.Decimal] = [".", ","]
    if not at_odds:
        standing = _standing(table, "decimal", standing, lambda t: test(t) if _usual(t, spec) else 0.0)
    with_points = all("." in text and "," not in text for _, _, text in opens)
    if len(standing) == 2 and with_points and not at_odds:
        standing = ["."]  # the plain form of this program, and nothing speaks against it
        table.habits = replace(table.habits, decimal=".")
        return True
    if len(standing) == 1:
        table.habits = replace(table.habits, decimal=standing[0])
        _told(table, opens)
        return True
    row, column, text = opens[0]
    told, own = [], table.habits.decimal
    signs: tuple[numbers.Decimal, ...] = (".", ",")
    for sign in signs:
        table.habits = replace(table.habits, decimal=sign)
        written = numbers.written(text, sign)
        told.append(f"{written.digits if written else text} by {_example(sign)} ({tell(row)})")
    remedy = gate.ask("number_format", [_example("."), _example(",")], table)
    if at_odds:  # the other numbers leave one sign: by the other one they would be none
        other = numbers.written(text, signs[1 - signs.index(own)])
        meant = f"If {text} is {other.digits if other else text}, write it so, and all such. Else: "
        remedy = meant + gate.ask("number_format", [_example(own)], table)
    table.habits = replace(table.habits, decimal=".")
    gate.wrong(
        row[column.name],
        f"the numbers of this table can be read in two ways: {text} is {' or '.join(told)}",
        remedy,
    )
    return False


def _example(sign: str) -> str:
    return GROUPED if sign == "." else GROUPED.translate({44: ".", 46: ","})


def _usual(table: Table, spec: Columns) -> bool:
    """Whether the numbers are of a usual size, and of one size with each other."""
    for column in spec:
        if column.usual_low is None or not table.has(column.name):
            continue
        usual_low = column.usual_low / (1000.0 if table.units.get(column.name) == "MWh" else 1.0)
        cells = [row.value(column.name) for row in table.rows]
        opens = [cell for cell in cells if isinstance(cell, str) and numbers.is_open(cell)]
        read = [abs(value) for cell in opens if (value := _value(cell, column, table.habits.decimal)) is not None]
        if any(0.0 < value < usual_low for value in read):
            return False
        sizes = [abs(value) for cell in cells if (value := _value(cell, column, table.habits.decimal))]
        if column.name == "kwh" and read and max(sizes) > FEW * min(sizes):
            return False
    return not _too_little(table, spec)


def _too_little(table: Table, spec: Columns) -> bool:
    """Whether registers would hardly turn from bill to bill, or a kWh cost next to nothing."""
    decimal = table.habits.decimal

    def values(name: str) -> list[float | None]:
        return [_value(row.value(name), spec[name], decimal) for row in table.rows] if table.has(name) else []

    dial = "reading_end" if "reading_end" in spec.names else ""
    shown = sorted(value for value in values(dial) if value) if dial and not table.has("kwh") else []
    turned = [after - before for before, after in pairwise(shown)]
    if len(turned) > 1 and median(turned) < LEAST_TURNED:
        return True
    prices = [cost / kwh for kwh, cost in zip(values("kwh"), values("amount"), strict=False) if kwh and cost]
    return bool(prices) and median(prices) < LEAST_PRICE


def _paid_alike(table: Table, spec: Columns) -> bool:
    """Whether kWh that mean two things cost by this sign about what the other kWh do, and by the other sign do not."""
    if not (table.has("kwh") and table.has("amount")):
        return False
    signs: tuple[numbers.Decimal, ...] = (".", ",")
    other = signs[1 - signs.index(table.habits.decimal)]
    prices: dict[tuple[bool, numbers.Decimal], list[float]] = {}
    for row in table.rows:
        value, cost = row.value("kwh"), _value(row.value("amount"), spec["amount"], table.habits.decimal)
        opens = isinstance(value, str) and numbers.is_open(value)
        for sign in (table.habits.decimal, other):
            kwh = _value(value, spec["kwh"], sign)
            if kwh and cost and kwh > 0.0 and cost > 0.0:
                prices.setdefault((opens, sign), []).append(cost / kwh)
    usual, own, others = (prices.get(key) for key in ((False, other), (True, table.habits.decimal), (True, other)))
    if not (usual and own and others):
        return False
    dear = [max(median(side) / median(usual), median(usual) / median(side)) for side in (own, others)]
    return dear[0] <= PAID_ALIKE and dear[1] >= FEW


PAID_ALIKE = 4.0
"""Times by which a kWh of large bills costs more or less than one of small ones, with their fixed charges, at the most
(our choice)."""
LEAST_TURNED = 10.0
"""kWh from bill to bill below which a register's figures are rather read by the wrong sign (as :data:`FEW`)."""
LEAST_PRICE = 0.02
"""Of no currency is a kWh's price less (our choice: a fifth of a cheap one in dollars)."""


def _value(value: Any, column: Column, decimal: numbers.Decimal) -> float | None:
    """Return a number without a unit of its own; None where it has another one."""
    if isinstance(value, bool):
        return None
    if isinstance(value, int | float):
        return float(value)
    written = numbers.written(value, decimal) if isinstance(value, str) else None
    if written is not None and written.tail.casefold().startswith("btu"):
        return float(written.digits) / BTU_A_WATT
    if written is None or written.tail.casefold() not in ("", (column.unit or "").casefold()):
        return None
    return float(written.digits)


def _standing(table: Table, habit: str, candidates: list[Any], test: Test) -> list[Any]:
    """Return the candidates under which the table agrees with itself, or all but a few of its rows; all where none."""
    before = table.habits
    parts = []
    for candidate in candidates:
        table.habits = replace(before, **{habit: candidate})
        parts.append(test(table))
    table.habits = before
    best = max(parts)
    if best < 1.0 and not (best >= 1.0 - MOST_ODD and sum(2.0 * part > best for part in parts) == 1):
        return candidates
    return [candidate for candidate, part in zip(candidates, parts, strict=True) if part == best]


_KEY = re.compile(r"^[a-z]+(?:_[a-z]+)+(?= (?:is|are) )")
"""The name of a column of this program at the beginning of what is told: a person reads its words."""


def tell_understood(table: Table, gate: Gate) -> None:
    """Say in at most two sentences how a table was read, and what of it was not."""
    if table.read_as:
        plain = [_KEY.sub(lambda key: key[0].replace("_", " "), told) for told in table.read_as]
        gate.notice(f"{table.place} is read as: {_list(plain)}.")
    if table.left:
        gate.notice(f"{table.place}, not read: {_list(table.left)}.")


def _list(items: list[str]) -> str:
    more = len(items) - MOST_TOLD
    return "; ".join(items[:MOST_TOLD]) + (f"; and {more} more" if more > 0 else "")


def read_currency(gate: Gate, currency: str, given: bool) -> str:
    """Return the currency of the house, by its settings or by the signs beside the amounts."""
    codes = {code: cell for sign, cell in gate.currencies.items() if (code := CURRENCIES[sign]) is not None}
    for sign, cell in gate.currencies.items():
        beside = next((code for code in codes if sign[0] in OF_SEVERAL and code not in OF_SEVERAL[sign[0]]), None)
        if CURRENCIES[sign] is None and beside is not None:
            gate.wrong(cell, f"amounts of this house are in {sign} and in {beside}", "Write them in one currency.")
            return currency
    strange = {code: cell for code, cell in codes.items() if code != currency}
    if given:
        for code, cell in strange.items():
            gate.wrong(cell, f"this is {code}, and the currency of the house is {currency}", "Correct one of the two.")
    elif len(codes) > 1:
        code, cell = list(codes.items())[-1]
        gate.wrong(cell, f"amounts of this house are in {' and '.join(codes)}", "Write them in one currency.")
    elif strange:
        currency = next(iter(strange))
        gate.notice(f"Amounts are read as {currency}, by the sign beside them.")
    return currency

"""The columns of a table by their names: the one that says it most exactly, and what of a bill is another service's."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from reconcile.read.tables.cells import Cell, Table, or_list, plain_name, shown
from reconcile.read.tables.columns import ENERGY, Columns, Match, is_another, joined, tokens
from reconcile.read.tables.gate import Gate
from reconcile.read.tables.sum_rows import is_of_sums
from reconcile.read.tables.told_days import days_told
from reconcile.read.values.dates import orders_of
from reconcile.read.values.numbers import figure

Body = Sequence[tuple[int, Sequence[Any]]]

ELECTRIC = frozenset(("electric", "electricity", "elec", "power", "electrical"))
OTHERS = frozenset(
    (
        *("gas", "propane", "oil", "steam", "therms", "therm", "ccf"),
        *("water", "sewer", "sewage", "trash", "garbage", "internet"),
    )
)
"""Services that one bill may hold beside electricity."""
_OF_PAYING = frozenset(("due", "paid", "payment", "pay", "next"))
_OF_READING = frozenset(("read", "reading", "meter"))
_OF_USE = frozenset(("kwh", "usage", "use", "used", "units", "consumption", "reading", "read", "meter"))
_IN_ALL = frozenset(("total", "totals", "due", "grand", "overall", "combined"))


def name_columns(table: Table, spec: Columns, above: Sequence[Any], gate: Gate, body: Body) -> None:
    """Give each column its name: the one that says it most exactly; what is over is told."""
    matches: dict[str, list[tuple[int, Match]]] = {}
    unknown: list[int] = []
    headed = sum(isinstance(value, str) and spec.match(value) is not None for value in above) > 1  # no title
    for index, name in enumerate(table.names):
        if not name:
            _named_above(table, spec, index, above, body)
            name = table.names[index]
        if not name:
            continue
        match = spec.match(f"{above[index]} {name}") if headed and index < len(above) and above[index] else None
        match = match or spec.match(name)
        if match is None and index < len(above) and isinstance(above[index], str):
            match = spec.match(f"{above[index]} {name}") or spec.match(f"{name} {above[index]}")
            match = match or (spec.match(above[index]) if headed else None)
        if match is None:
            unknown.append(index)
        else:
            matches.setdefault(match.column, []).append((index, match))
    if spec.table == "bills":
        _days_by_content(table, spec, matches, unknown, body)
    _electric_apart(table, matches, unknown, body)
    for column, found in matches.items():
        filled = [pair for pair in found if any(not blank(values, pair[0]) for _, values in body)] or found[:1]
        if spec.table == "bills" and spec[column].kind == "word":  # Status: Paid tells nothing of a reading
            words = [pair for pair in found if not pair[1].rank or _has_code(spec, body, pair[0])]
            unknown += [pair[0] for pair in found if pair not in words]
            found = words
            if not found:
                continue
            filled = [pair for pair in filled if pair in found] or found[:1]
        paid = [pair for pair in filled if column == "amount" and "paid" in tokens(table.names[pair[0]])]
        if paid and (len(paid) < len(filled) or not _of_figures(body, paid[0][0])):
            # what was paid stands for the charges only where nothing else does; a day or a mark of it never
            unknown += [pair[0] for pair in paid]
            filled = [pair for pair in filled if pair not in paid]
            if not filled:
                continue
        if spec[column].kind in ("number", "money") and len(filled) > 1:
            figures = [pair for pair in filled if _of_figures(body, pair[0]) and not _numbers_rows(body, pair[0])]
            unknown += [pair[0] for pair in filled if figures and pair not in figures]
            filled = figures or filled
        filled.sort(key=lambda pair: pair[1].rank)
        index, match = filled[0]
        others = [pair for pair in filled[1:] if not _same(body, index, pair[0])]
        if others and others[0][1].rank == match.rank:
            gate.fault_in(
                table, f"the column {table.names[index]} stands twice", "Keep one of the two.", row=table.header_row
            )
        elif others:
            _second(table, column, index, [pair[0] for pair in others], gate)
        table.header[plain_name(column)] = index
        if match.unit is not None:
            table.units[column] = match.unit
        if match.rank:
            table.read_as.append(f"{column} is the column {table.names[index]}")
    _unknown(table, spec, unknown, gate, body)


def _days_by_content(
    table: Table, spec: Columns, matches: dict[str, list[tuple[int, Match]]], unknown: list[int], body: Body
) -> None:
    """Take columns for a bill's days by what stands in them: no days are charges or readings, whatever is over them."""
    rows = [values for _, values in body if not is_of_sums(values)]
    told = {
        index: kind
        for index, name in enumerate(table.names)
        if name and (kind := days_told([row[index] for row in rows if index < len(row)])) is not None
    }
    for column in [name for name in matches if spec[name].kind in ("number", "money", "word")]:
        of_days = [pair for pair in matches[column] if pair[0] in told]
        matches[column] = [pair for pair in matches[column] if pair not in of_days]
        unknown += [index for index, _ in of_days]
        if not matches[column]:
            del matches[column]
    if not {"start", "end", "period", "month"}.isdisjoint(matches):
        return
    free = {
        index: kind
        for index, kind in told.items()
        if index in unknown
        and not _OF_PAYING & {*tokens(table.names[index])}
        and days_told([table.names[index]]) is None
    }
    for kind in ("period", "day", "month"):
        found = [index for index in free if free[index] == kind]
        if kind == "day" and ("bill_date" in matches or len(found) > 1):
            return
        if found:
            of_reading = _OF_READING & {*tokens(table.names[found[0]])}
            days = "end" if of_reading else "bill_date"
            column = days if kind == "day" else str(kind)
            matches[column] = [(found[0], Match(column, 1, None))]
            return unknown.remove(found[0])


def _has_code(spec: Columns, body: Body, index: int) -> bool:
    """Whether a column of words holds one that is known, or nothing."""
    cells = [shown(values[index]) for _, values in body if not blank(values, index)]
    kinds = [column for column in spec if column.kind == "word"]  # a Status may be one of the reading, or of the bill
    return not cells or any(column.code(cell) is not None for column in kinds for cell in cells)


def _of_figures(body: Body, index: int) -> bool:
    """Whether a figure stands in a column: months below ``Bill`` are no charges."""
    cells = [values[index] for _, values in body if not blank(values, index)]
    return any(
        figure(cell if isinstance(cell, int | float) else str(cell)) is not None
        for cell in cells
        if not isinstance(cell, bool) and not orders_of(cell)
    )


def _named_above(table: Table, spec: Columns, index: int, above: Sequence[Any], body: Body) -> None:
    """Take the name of a column of days from the line above where its own cell is empty: a header of two lines."""
    name = above[index] if index < len(above) else None
    match = spec.match(name) if isinstance(name, str) else None
    of_days = match is not None and spec[match.column].kind in ("day", "month", "period")
    if of_days and any(not blank(values, index) for _, values in body):
        table.names[index] = str(name)


def _second(table: Table, column: str, index: int, others: list[int], gate: Gate) -> None:
    names = [table.names[index], *(table.names[other] for other in others)]
    gate.fault_in(
        table,
        f"the columns {or_list(names).replace(' or ', ' and ')} may each be the {column}, and they differ",
        f"Head the right one {column}, and give the other a name of your own that begins with the word other.",
        row=table.header_row,
    )


def _same(body: Body, first: int, second: int) -> bool:
    """Whether two columns say the same, so that either will do."""
    return all(_text(values, first) == _text(values, second) for _, values in body)


def _text(values: Sequence[Any], index: int) -> str:
    return "" if blank(values, index) else shown(values[index])


def blank(values: Sequence[Any], index: int) -> bool:
    """Return whether nothing stands in a column of a row."""
    return index >= len(values) or Cell(values[index], "", "").blank


def _unknown(table: Table, spec: Columns, unknown: list[int], gate: Gate, body: Body) -> None:
    """Tell of columns that were not understood: a misspelled name is a fault, a spare one a notice."""
    for index in unknown:
        name = table.names[index]
        if all(blank(values, index) for _, values in body):
            continue
        if joined(name) in ("", "index", "unnamed0") and counts(body, index):
            continue
        harmless = spec.is_spare(name) or is_another(name) or joined(name).startswith("other")
        near = None if harmless or spec.match(name) is not None else spec.near(name)  # known, but of other words
        if near is not None and not table.has(near):
            gate.fault_in(
                table,
                f"the column {name} is not known",
                f"Did you mean {near}? Rename it or take it out.",
                row=table.header_row,
                column=name,
            )
        else:
            table.left.append(f"the column {name}")


def _numbers_rows(body: Body, index: int) -> bool:
    """Whether a column numbers the rows from one on: no energy and no money of bills does so."""
    first = [_text(row, index) for _, row in body[:2]]
    return first == ["1", "2"] and counts(body, index)


def counts(body: Body, index: int) -> bool:
    """Whether a column only numbers the rows."""
    values = [_text(row, index) for _, row in body if not blank(row, index)]
    return (
        all(value.isdigit() for value in values)
        and len(set(values)) == len(values)
        and (
            [int(value) for value in values] == list(range(int(values[0]), int(values[0]) + len(values)))
            if values
            else True
        )
    )


def _electric_apart(table: Table, matches: dict[str, list[tuple[int, Match]]], unknown: list[int], body: Body) -> None:
    """Take the money of electricity for the charges where gas or water stands beside: the sum of all is no charge."""
    words = [frozenset(tokens(name)) for name in table.names]
    if "kwh" not in matches or not any(one & OTHERS for one in words):
        return
    of_use = {index for index, match in matches["kwh"] if match.rank == 0 or words[index] & _OF_USE}
    own = [
        index
        for index, one in enumerate(words)
        if one & ELECTRIC and not one & _OF_USE and index not in of_use and _of_figures(body, index)
    ]
    if not of_use:
        return
    if len(own) == 1:
        for column, found in matches.items():
            matches[column] = [pair for pair in found if pair[0] != own[0]]
        unknown += [index for index, _ in matches.get("amount", [])]
        unknown[:] = [index for index in unknown if index != own[0]]
        matches["amount"] = [(own[0], Match("amount", 1, None))]
    elif not own:
        sums = [index for index, _ in matches.get("amount", []) if words[index] & _IN_ALL]
        matches["amount"] = [pair for pair in matches.get("amount", []) if pair[0] not in sums]
        table.left += [f"the column {table.names[index]}, which holds other services too" for index in sums]
    for column in [column for column, found in matches.items() if not found]:
        del matches[column]


def leave_other_services(table: Table, gate: Gate) -> None:
    """Leave rows of gas or water where a column says whose each row is: their figures are no kWh."""
    read = set(table.header.values())
    for index, name in enumerate(table.names):
        if index in read:
            continue
        of_row = [(row, set(tokens(_text(row.values, index)))) for row in table.rows]
        own = [row for row, words in of_row if words & ELECTRIC or words & {"kwh"}]
        others = [row for row, words in of_row if words & OTHERS and row not in own and len(words) <= 3]
        if not others:
            continue
        kinds = " and ".join(dict.fromkeys(_text(row.values, index) for row in others))
        if not own:
            if len(others) == len(table.rows):
                gate.fault_in(
                    table,
                    f"every row is of {shown(kinds)} by its column {name}",
                    "Give the bills of electricity.",
                    row=table.header_row,
                )
            continue
        table.left.append(f"{len(others)} row{'s' if len(others) > 1 else ''} of {shown(kinds)}")
        table.rows[:] = [row for row in table.rows if row not in others]


_NO_BILL = re.compile(r"forecast|project(?:ed|ion)|predict(?:ed|ion)|expected|upcoming|budgeted", re.IGNORECASE)
_OF_MONEY = re.compile(
    r"(?:auto ?pay |card |your )?(?:payments?|paid|refund|deposit|adjustment|late fee|thank you).*", re.IGNORECASE
)


def leave_no_bills(table: Table) -> None:
    """Leave rows that a column of another name calls a forecast, or a payment where they tell no energy."""
    read = set(table.header.values())
    for index, name in enumerate(table.names):
        words = {} if index in read else {row.number: _text(row.values, index).strip() for row in table.rows}
        gone = [
            row
            for row in table.rows
            if _NO_BILL.fullmatch(word := words.get(row.number, ""))
            or (_OF_MONEY.fullmatch(word) and all(row.blank(column) for column in ENERGY))
        ]
        if gone and len(gone) < len(table.rows):
            kinds = " and ".join(dict.fromkeys(words[row.number] for row in gone))
            table.left.append(f"{len(gone)} row{'s' if len(gone) > 1 else ''} of {shown(kinds)}")
            table.rows[:] = [row for row in table.rows if row not in gone]
            table.now_read(name)

"""One bill of a pasted text: which of the facts that its lines tell are its own; of two that may be, none is chosen."""

from __future__ import annotations

import re
from collections.abc import Sequence

from reconcile.read.tables.cells import Relaid
from reconcile.read.tables.columns import BILLS, DAYS, tokens
from reconcile.read.values import numbers
from reconcile.records import dataclass

NO_KWH = "nothing tells its kWh"
_OTHER_SERVICE = re.compile(r"\b(?:gas|water|sewer|trash|garbage|internet|therms?|ccf)\b", re.IGNORECASE)
_READ_AS = re.compile(
    r"(?<!not )(?<!not an )(?<!no )"
    r"(?:\b(estimated|estimate|est|actual|customer read)\b\.?(?= *(?:\)|,|;|$|read(?:ing)?\b))"
    r"|\((e|a)\)|(?:was|is) an? (estimated) bill)",
    re.IGNORECASE,
)
"""A word beside a bill's figures that says how its meter was read."""
_ARREARS = re.compile(r"\b(?:balance forward|past due|arrears|unpaid)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that a line tells: the column it belongs to, its text, and how sure the column is (0 the surest)."""

    line: int
    column: str
    text: str
    rank: int
    label: str = ""


def bill_of(block: Sequence[Fact], text: str, found: Relaid) -> tuple[dict[str, str], str | None]:
    """Return the cells of one bill, and what is wrong with it."""
    by_column: dict[str, list[Fact]] = {}
    for fact in block:
        by_column.setdefault(fact.column, []).append(fact)
    cells: dict[str, str] = {}
    problem = None
    for column, facts in by_column.items():
        if column in ("kwh", "amount"):
            continue
        least = min(fact.rank for fact in facts)
        texts = list(dict.fromkeys(fact.text for fact in facts if fact.rank == least))
        if len(texts) == 1:
            cells[column] = texts[0]
        elif column in DAYS or column in ("reading_start", "reading_end"):
            problem = problem or f"{texts[0]} and {texts[1]} may each be the {column.replace('_', ' ')} of this bill"
    if "period" in cells or "start" in cells or "end" in cells:
        cells.pop("month", None)
        if "period" in cells:
            cells.pop("start", None), cells.pop("end", None)
    elif "month" not in cells and "bill_date" not in cells:
        problem = problem or "nothing tells its days"
    how = {BILLS["read_type"].code(next(filter(None, match.groups()))) for match in _READ_AS.finditer(text)} - {None}
    if "read_type" not in cells and len(how) == 1:
        cells["read_type"] = str(*how)
    energy, doubt = _energy(by_column.get("kwh", []), cells)
    if energy is not None:
        cells["kwh"] = energy
    amount = _amount(by_column.get("amount", []), text)
    if amount is not None:
        cells["amount"] = amount
    elif len({fact.text for fact in by_column.get("amount", [])}) > 1:
        found.left.append(f"the charges of the bill in row {block[0].line}, which could be several figures")
    if "amount_due" in cells and _OTHER_SERVICE.search(text):
        del cells["amount_due"]
        several = "what was due in all, which holds other services"
        found.left += [] if several in found.left else [several]
    elif "amount_due" in cells and amount is None and _ARREARS.search(text):
        del cells["amount_due"]
        found.left.append(f"what was due in row {block[0].line}, which holds arrears")
    return cells, problem or doubt


def _energy(facts: Sequence[Fact], cells: dict[str, str]) -> tuple[str | None, str | None]:
    """Return the kWh of a bill, and what is wrong where figures leave a choice."""
    gone = (
        numbers.figure(cells.get("reading_end", "")),
        numbers.figure(cells.get("reading_start", "")),
    )
    used = None if None in gone else gone[0] - gone[1]  # type: ignore[operator]
    factor = numbers.figure(cells.get("multiplier", "1"))
    for ranks in ((0,), (1,), (2,)):
        texts = list(dict.fromkeys(fact.text for fact in facts if fact.rank in ranks))
        values = {text: numbers.figure(text) for text in texts}
        if len(texts) == 1 and (ranks != (2,) or used is None or values[texts[0]] == used):
            return texts[0], None
        if len(texts) > 1:
            fits = [t for t in texts if used is not None and values[t] in (used, used * (factor or 1.0))]
            total = sum(value or 0.0 for value in values.values())
            fits = fits or [t for t in texts if abs(total - 2.0 * (values[t] or 0.0)) < 0.5]
            if len(fits) == 1:
                return fits[0], None
            if used is None:
                return None, f"{texts[0]} and {texts[1]} may each be its kWh"
    if used is not None or "delivered_kwh" in cells or (not facts and "reading_end" in cells):
        return None, None
    others = list(dict.fromkeys(fact.text for fact in facts))
    if len(others) > 1:
        return None, f"{others[0]} and {others[1]} may each be its kWh"
    return None, NO_KWH


def _amount(facts: Sequence[Fact], text: str) -> str | None:
    """Return the charges of the bill's own period: the line that says so most plainly; None where two do."""
    several = _OTHER_SERVICE.search(text) is not None

    def plain(fact: Fact) -> int:
        words = set(tokens(fact.label))
        if several:
            return 4 if words & {"electric", "electricity"} else 0
        own = bool(words & {"current", "new", "this"})
        return 2 * own + ("total" in words) if fact.rank == 0 else -1

    best = max(map(plain, facts), default=0)
    if several and best < 4:
        return None
    texts = list(dict.fromkeys(fact.text for fact in facts if plain(fact) == best))
    return texts[0] if len(texts) == 1 else None

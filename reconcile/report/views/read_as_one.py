"""Bills that are read as one: estimates and the bill that trues them up, as one row from actual to actual reading."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from reconcile.kinds import Flag
from reconcile.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Sequence
    from decimal import Decimal

    from reconcile.facts import Finding
    from reconcile.result import Period, Reconciliation


@dataclass(frozen=True, slots=True)
class Joined:
    """Estimates and what trues them up."""

    first: int
    last: int
    """Both: rows of the first estimate and of the bill that trues all up; all between belong to it."""
    row: Period
    """All of them as one row; where each has a usual range, theirs added up: the estimate's error is in no sum, and
    limits added up are never too narrow."""
    finding: Finding
    """The catch-up."""
    as_usual: bool
    """Whether each was judged and lies inside its range: only then the one row stands for all."""


def joined(result: Reconciliation) -> list[Joined]:
    """Return the bills of an answer that are read as one."""
    out: list[Joined] = []
    run: tuple[int, ...] = ()
    for finding in result.findings:
        if finding.key == "estimated-read/trued-up":
            run = finding.periods
        elif finding.code == "catch-up" and finding.figures.get("days") and run:
            first, last = run[0], finding.periods[0]
            parts = result.rows[first : last + 1]
            if len(parts) > 1:
                out.append(Joined(first, last, _one(parts), finding, all(p.flag == Flag.WITHIN for p in parts)))
            run = ()
    return out


def rows_joined(result: Reconciliation) -> tuple[list[Period], list[Joined]]:
    """Return the rows of an answer with those that are as usual together in one, and which these are."""
    found = [one for one in joined(result) if one.as_usual]
    begins = {one.first: one.row for one in found}
    inside = {i for one in found for i in range(one.first + 1, one.last + 1)}
    return [begins.get(i, row) for i, row in enumerate(result.rows) if i not in inside], found


def _one(parts: Sequence[Period]) -> Period:
    def added(name: str) -> float | None:
        values = [value for part in parts if (value := getattr(part, name)) is not None]
        return float(sum(values)) if len(values) == len(parts) else None

    money: list[Decimal] = [part.excess_amount for part in parts if part.excess_amount is not None]
    energies = ("billed", "expected", "low", "high", "usual", "usual_low", "usual_high", "excess")
    together: dict[str, Any] = {f"{name}_kwh": added(f"{name}_kwh") for name in energies}
    return replace(
        parts[-1],
        start=parts[0].start,
        days=sum(part.days for part in parts),
        **together,
        excess_amount=sum(money[1:], money[0]) if len(money) == len(parts) else None,
    )

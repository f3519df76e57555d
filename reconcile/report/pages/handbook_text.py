"""The handbook of typical loads as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reconcile.report.words import shorten
from reconcile.say import Voice

if TYPE_CHECKING:
    from reconcile.loads.handbook import TypicalLoad

_STATUS = {"read": "published", "memory": "from memory", "practice": "common practice"}


def handbook_text(word: str | None = None) -> str:
    """Return typical loads as a table of at most 100 columns, with how sure their figures are.

    Parameters
    ----------
    word : str, optional
        Only the kinds this name may mean.
    """
    from reconcile.loads.handbook import SOURCES, find, handbook

    number = Voice().number
    kinds = handbook() if word is None else _matching(word, find(word), handbook())
    if not kinds:
        return f"The handbook knows no load called {shorten(word or '', 40)!r}. `reconcile loads` prints all of it."
    lines = [f"{'load':<34} {'watts':>7} {'usual range':>14} {'h/day':>6} {'on':>5} {'standby':>8}  figures"]
    for kind in kinds:
        hours = "weather" if kind.run_hours is None else number(kind.run_hours, 0.1).removesuffix(".0")
        watts = f"{number(kind.watts_low)} to {number(kind.watts_high)}"
        lines.append(
            f"{shorten(kind.load, 34):<34} {number(kind.watts):>7} "
            f"{watts:>14} {hours:>6} {number(kind.share_on, 0.01):>5} "
            f"{number(kind.standby_watts):>8}  {_STATUS[kind.watts_status]}"
        )
    if word is not None:
        for kind in kinds:
            if kind.note:
                lines.append(f"{kind.load}: {kind.note}.")
    used = sorted({kind.watts_source for kind in kinds if kind.watts_status == "read"})
    if used:
        lines += ["", "Published figures:"] + [f"- {SOURCES[source]}" for source in used]
    return "\n".join(lines)


def _matching(word: str, found: tuple[TypicalLoad, ...], every: tuple[TypicalLoad, ...]) -> tuple[TypicalLoad, ...]:
    """Add to the kinds a name means those that merely hold the letters typed."""
    part = word.casefold().strip()
    return found + tuple(k for k in every if k not in found and part and any(part in alias for alias in k.words))

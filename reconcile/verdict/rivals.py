"""Causes that the bills cannot tell apart, named with their chances."""

from __future__ import annotations

from collections.abc import Sequence

from reconcile.grounds.ranges import LASTING_CODES
from reconcile.result import Cause
from reconcile.say import Voice
from reconcile.texts.cause_words import NAMES
from reconcile.verdict.reasons import OF_ONE_BILL, Inputs, bills_out, leading_of

TOLD = 2
"""Causes that are named."""


def rivals(causes: Sequence[Cause], voice: Voice, *, listed: bool) -> list[str]:
    """Return the likeliest causes in short, without what a list lacks where there is none."""
    unsaid = () if listed else ("unlisted",)
    best = sorted((c for c in causes if c.code not in unsaid), key=lambda c: -c.probability)[:TOLD]
    # a load that came for a time, as far as the bills can tell, and is still there at the last of them
    here: dict[str, str] = {"none": "no more than days, weather and habits"} | {
        c.code: "a load for a season" for c in best if c.code == "timed-load" and c.until is None
    }
    return [f"{here.get(c.code, NAMES.get(c.code, c.code))} ({voice.chance_percent(c.probability)})" for c in best]


def rises(causes: Sequence[Cause]) -> list[Cause]:
    """Return the causes of a lasting rise."""
    return [c for c in causes if c.code in LASTING_CODES and (c.kwh or 0.0) > 0.0]


def rose(given: Inputs) -> bool:
    """Whether a rise is told though no bill stands out: what may be behind it is no fall."""
    odds = given.case.odds
    return odds is not None and odds.alike >= given.costs.likely and not bills_out(given.rows)


def rising(given: Inputs) -> list[str]:
    """Return the likeliest causes of a lasting rise, where the likeliest of all is of a bill alone."""
    leading = leading_of(given.causes, given.costs.likely)
    if leading is None or leading.code not in OF_ONE_BILL:
        return []
    return rivals(rises(given.causes), given.voice, listed=given.case.listed)


def of_weather(causes: Sequence[Cause]) -> str:
    """Return the likeliest cause by which heating or cooling takes more, in a sentence."""
    found = [c for c in causes if c.code in ("heating-rise", "cooling-rise")]
    return max(found, key=lambda cause: cause.probability).text if found else ""

"""What interval data prove: their total, their quality, and whether they add up to the bills."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from reconcile.house import Action, Assumed
from reconcile.say import Voice
from reconcile.texts.interval import action_text, assumed_text


@dataclass(frozen=True, slots=True)
class TieOut:
    """Interval sum against one billed period.

    ``difference_percent`` is billed less interval, of the interval sum; None where either is not known or the sum is
    zero. ``within`` is None where the data do not cover the period.
    """

    period: int
    billed_kwh: float
    interval_kwh: float
    difference_percent: float | None
    within: bool | None
    missing_intervals: int = 0


@dataclass(frozen=True, slots=True)
class Onset:
    """Where the base load stepped, with the limits of the date."""

    day: date
    low: date
    high: date
    cause: str
    watts: float


@dataclass(frozen=True, slots=True)
class IntervalResult:
    """Interval data, examined."""

    kwh: float
    readings: int
    start: datetime
    end: datetime
    step_minutes: float
    assumed: tuple[Assumed, ...]
    actions: tuple[Action, ...]
    tie_out: tuple[TieOut, ...]
    floor_watts: float | None
    onset: Onset | None = None
    reading_hour: int | None = None
    """Local hour at which the bills tie out; None where no one hour serves and any pair of hours is
    allowed."""

    def to_dict(self, voice: Voice | None = None) -> dict[str, Any]:
        """Return the ``interval`` part of ``result.json``."""
        voice = voice or Voice()
        return {
            "kwh": self.kwh,
            "readings": self.readings,
            "start": self.start.isoformat(),
            "end": self.end.isoformat(),
            "step_minutes": self.step_minutes,
            "assumed": [assumed_text(one, voice) for one in self.assumed],
            "actions": [
                {"code": a.code, "count": a.count, "kwh": a.kwh, "text": action_text(a, voice)} for a in self.actions
            ],
            "tie_out": [
                {
                    "period": t.period,
                    "billed_kwh": t.billed_kwh if math.isfinite(t.billed_kwh) else None,
                    "interval_kwh": t.interval_kwh,
                    "difference_percent": t.difference_percent,
                    "within": t.within,
                }
                for t in self.tie_out
            ],
            "reading_hour": self.reading_hour,
            "floor_watts": self.floor_watts,
            "onset": None
            if self.onset is None
            else {
                "date": self.onset.day.isoformat(),
                "low": self.onset.low.isoformat(),
                "high": self.onset.high.isoformat(),
                "cause": self.onset.cause,
            },
        }

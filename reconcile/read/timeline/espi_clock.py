"""The clock of an ESPI file: its distance from UTC, and the bits of its rules of summer time."""

from __future__ import annotations

from datetime import date, timedelta

from reconcile.clock import DAY_SECONDS, as_day, day_numbers
from reconcile.records import dataclass

NO_RULE = 0xFFFFFFFF
"""The bits of a clock that never changes."""


@dataclass(frozen=True, slots=True)
class DstRule:
    """When a clock changes, from the 32 bits of a DstRuleType."""

    month: int
    operator: int
    """0 on a day of the month; 1 a weekday on or after it; 2 to 6 the first to the fifth weekday; 7 the last."""
    day: int
    """Day of the month."""
    weekday: int
    """1 is Monday."""
    seconds: int
    """Second of the day [s]."""

    @classmethod
    def of(cls, bits: int) -> DstRule | None:
        """Return the rule in its bits; None where they say that the clock never changes, or make no rule.

        Examples
        --------
        >>> DstRule.of(0x360E2000)
        DstRule(month=3, operator=3, day=0, weekday=7, seconds=7200)
        """
        if bits == NO_RULE:
            return None
        rule = cls(
            month=bits >> 28 & 15,
            operator=bits >> 25 & 7,
            day=bits >> 20 & 31,
            weekday=bits >> 17 & 7,
            seconds=(bits >> 12 & 31) * 3600 + (bits & 4095),
        )
        return rule if 1 <= rule.month <= 12 and (rule.operator == 0 or 1 <= rule.weekday <= 7) else None

    def on(self, year: int) -> date | None:
        """Return the day of a year on which the clock changes; None where the year has none.

        Examples
        --------
        >>> DstRule.of(0xB40E2000).on(2025)
        datetime.date(2025, 11, 2)
        """
        try:
            if self.operator == 0:
                return date(year, self.month, self.day)
            if self.operator == 7:
                last = date(year + self.month // 12, self.month % 12 + 1, 1) - timedelta(days=1)
                return last - timedelta(days=(last.isoweekday() - self.weekday) % 7)
            first = date(year, self.month, self.day if self.operator == 1 else 1)
        except ValueError:
            return None
        found = first + timedelta(days=(self.weekday - first.isoweekday()) % 7)
        if self.operator > 1:
            found += timedelta(weeks=self.operator - 2)
        return found if found.month == self.month or self.operator == 1 else None


@dataclass(frozen=True, slots=True)
class FileClock:
    """The clock of the file: distance from UTC in winter, and the rules of summer time [s]."""

    offset: int
    dst_offset: int
    start: DstRule | None
    end: DstRule | None

    def at(self, instant: int) -> int:
        """Return the distance from UTC at an instant: summer time runs from one rule's day to the other's [s]."""
        local = instant + self.offset
        year = as_day(local // DAY_SECONDS).year
        if self.start is None or self.end is None or not self.dst_offset:
            return self.offset
        begin, end = self.start.on(year), self.end.on(year)
        if begin is None or end is None:
            return self.offset
        opens, closes = day_numbers([begin, end]) * DAY_SECONDS
        opens, closes = opens + self.start.seconds, closes + self.end.seconds - self.dst_offset
        summer = opens <= local < closes if opens < closes else not closes <= local < opens
        return self.offset + self.dst_offset * summer

"""What a wrong act costs, and the chances at which an act is worth it: the one table every threshold comes from.

All costs are US dollars of a household's money, time and worry over a year, our own judgement for a house of about
10,000 kWh a year at 0.15 a kWh; only their ratios matter.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from reconcile.records import dataclass


def finite(value: Any) -> float | None:
    """Return a finite number of Python or numpy as a float; None where it is none, and for text and truth.

    Examples
    --------
    >>> finite(3), finite("3"), finite(True), finite(math.inf)
    (3.0, None, None, None)
    """
    if isinstance(value, str | bytes) or type(value).__name__ in ("bool", "bool_"):
        return None
    try:
        made = float(value)
    except (TypeError, ValueError, OverflowError):
        return None
    return made if math.isfinite(made) else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """Costs of wrong acts, each of which may be given; every threshold on a chance follows from them.

    Raises
    ------
    ValueError
        Naming every cost that is not above nothing, or not finite (those of hazards may be nothing).

    Examples
    --------
    >>> COSTS.test_at
    0.6
    >>> Costs(needless_test=2400.0).test_at
    0.8
    """

    minute: float = 0.3
    """A minute of looking or writing down: some 18 an hour."""
    hazard: tuple[float, float, float, float, float, float] = (0.0, 0.0, 5.0, 25.0, 10.0, 250.0)
    """Risk and trouble of one step by its :class:`reconcile.kinds.Hazard`: nobody nears a panel for nothing."""
    wasted_look: float = 100.0
    """An hour and a half outside, readings taken and typed in, and the worry, for nothing."""
    needless_test: float = 900.0
    """A visit of the utility or an electrician to a right meter: fee, day off, and the trust lost in a tool that erred.
    A test that was needed is paid back."""
    fast_left: float = 600.0
    """A meter 20 % fast left for two years, the time in which most rules still allow a refund."""
    slow_left: float = 150.0
    """A slow meter left: what it did not count may be billed later, for as long as the rules allow."""
    load_left: float = 500.0
    """A load of some 400 W left running for a year."""
    timed_left: float = 40.0
    """A load for a season left: it goes by itself, and may come again next year."""
    weather_left: float = 150.0
    """Heating or cooling equipment that takes a third more than it should, for a season."""
    record_left: float = 90.0
    """A misread bill of usual size that nobody asks about: most are trued up by the next reading."""
    list_left: float = 60.0
    """A list a fifth too short that nobody mends: every later answer leans on it."""
    call: float = 10.0
    """A call or a letter to the billing desk."""
    known_load_run: float = 15.0
    """Half an hour with a plug-in meter and a heater, no cover removed: its minutes and its hazard."""
    listing: float = 138.0
    """Three loads measured in a week and a known load run: two hours and a half in all (45), four times at a plug (20),
    and the worry of a look for nothing, its own hour and a half left out (73)."""
    usual_error: float = 0.2
    """Size of a wrong meter, or of what a list lacks, for which such losses are stated; they grow in proportion."""
    smaller_errors: float = 2.0
    """Times by which a chance counts for less where the error may be any size: many meters that are out are out by less
    than :attr:`usual_error`."""
    too_sure: float = 5.0
    """Factor by which a chance near one is taken to be too sure of itself."""
    wrong_name: float = 1.0
    """A cause named as the answer that does not act, beside :attr:`no_name`."""
    no_name: float = 1.0
    """A cause that acts and is not named as the answer."""

    def __post_init__(self) -> None:
        """Hold every cost to a number that a cost can be."""
        wrong = []
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name == "hazard":
                each = [finite(one) for one in value] if isinstance(value, tuple | list) else []
                made: Any = tuple(each)
                if len(each) != 6 or any(one is None or one < 0.0 for one in each):
                    wrong.append(f"hazard takes six numbers, none below 0, not {value!r}")
            else:
                made = finite(value)
                if made is None or made <= 0.0:
                    wrong.append(f"{field.name} takes a number above 0, not {value!r}")
            object.__setattr__(self, field.name, made)
        if wrong:
            raise ValueError(f"costs: {'; '.join(wrong)}")

    @property
    def likely(self) -> float:
        """Chance from which a cause is called the answer: ``wrong_name / (wrong_name + no_name)``."""
        return self.wrong_name / (self.wrong_name + self.no_name)

    @property
    def look_at(self) -> float:
        """Chance of a round-the-clock load or a meter from which a look outside is worth its hour.

        And from which a cause is told among the reasons, and its money called in question: ``wasted_look / load_left``.
        """
        return min(self.wasted_look / self.load_left, 1.0)

    @property
    def taken_out_at(self) -> float:
        """Chance of causes that begin and last from which bills are shown beside what they would be without them.

        ``1 - look_at``: what is left of doubt is not worth a look.
        """
        return 1.0 - self.look_at

    @property
    def test_at(self) -> float:
        """Chance of a wrong meter, a known load run, at which a test is warranted.

        ``needless_test / (needless_test + fast_left)``.
        """
        return self.needless_test / (self.needless_test + self.fast_left)

    @property
    def test_from_bills_at(self) -> float:
        """The same from the bills alone, where not even a known-load run is worth its half hour first.

        ``1 - known_load_run / needless_test / too_sure``.
        """
        return max(1.0 - self.known_load_run / self.needless_test / self.too_sure, 0.0)

    @property
    def open_at(self) -> float:
        """Chance of a wrong meter from which the question stays open until a known load was run.

        ``smaller_errors known_load_run / fast_left``.
        """
        return min(self.smaller_errors * self.known_load_run / self.fast_left, 1.0)

    @property
    def slow_open_at(self) -> float:
        """The same of a slow meter where use fell: ``known_load_run / slow_left``."""
        return min(self.known_load_run / self.slow_left, 1.0)

    @property
    def desk_at(self) -> float:
        """Chance of a misread bill, or of the lesser of two readings of an exchange, from which it is worth a call.

        ``call / (call + record_left)``.
        """
        return self.call / (self.call + self.record_left)

    @property
    def measure_at(self) -> float:
        """Chance of a rise of heating or cooling at which that equipment is worth a week of measuring.

        ``wasted_look / weather_left``.
        """
        return min(self.wasted_look / self.weather_left, 1.0)


COSTS = Costs()
"""The costs where none are given."""


def checked_costs(costs: Any) -> Costs:
    """Return costs given as :class:`Costs`, or as a mapping of some of their names to numbers.

    Raises
    ------
    ValueError
        Naming each wrong name or number.

    Examples
    --------
    >>> checked_costs({"needless_test": 2400}).test_at
    0.8
    """
    if costs is None or isinstance(costs, Costs):
        return costs or COSTS
    if not isinstance(costs, Mapping):
        raise ValueError(f"costs are a Costs, or a mapping of names to numbers as {{'call': 20.0}}; not {costs!r}")
    known = [field.name for field in fields(Costs)]
    wrong = []
    for name in costs:
        if name not in known:
            near = difflib.get_close_matches(str(name), known, n=1)
            wrong.append(f"{name!r} is no cost" + (f" (did you mean {near[0]!r}?)" if near else ""))
    if wrong:
        wrong[-1] += f". The costs are {', '.join(known)}."
    try:
        made = Costs(**{str(name): value for name, value in costs.items() if name in known})
    except ValueError as error:
        raise ValueError("; ".join([str(error), *wrong])) from None
    if wrong:
        raise ValueError(f"costs: {'; '.join(wrong)}")
    return made

"""What a wrong act costs, and the chances at which an act is worth it: the one table every threshold comes from.

All costs are US dollars of a household's money, time and worry over a year, our own judgement for a house of about
10,000 kWh a year at 0.15 a kWh; only their ratios matter.
"""

from __future__ import annotations

from typing import Final

MINUTE: Final = 0.3
"""A minute of looking or writing down: some 18 an hour."""

HAZARD: Final = (0.0, 0.0, 5.0, 25.0, 10.0, 250.0)
"""Risk and trouble of one step by its :class:`reconcile.kinds.Hazard`: nobody nears a panel for nothing."""

WASTED_LOOK: Final = 100.0
"""An hour and a half outside, readings taken and typed in, and the worry, for nothing."""

NEEDLESS_TEST: Final = 900.0
"""A visit of the utility or an electrician to a right meter: fee, day off, and the trust lost in a tool that erred."""

FAST_LEFT: Final = 600.0
"""A meter 20 % fast left for two years, the time in which most rules still allow a refund."""

LOAD_LEFT: Final = 500.0
"""A load of some 400 W left running for a year."""

CALL: Final = 10.0
"""A call or a letter to the billing desk."""

RECORD_LEFT: Final = 90.0
"""A misread bill of usual size that nobody asks about: most are trued up by the next reading."""

WEATHER_LEFT: Final = 150.0
"""Heating or cooling equipment that takes a third more than it should, for a season."""

KNOWN_LOAD_RUN: Final = 15.0
"""Half an hour with a plug-in meter and a heater, no cover removed: :data:`MINUTE` and :data:`HAZARD`."""

LISTING: Final = WASTED_LOOK / 2.0
"""A week in which the loads that blur most are measured, mostly by waiting."""

LIST_LEFT: Final = 60.0
"""A list a fifth too short that nobody mends: every later answer leans on it."""

USUAL_ERROR: Final = 0.2
"""Size of a wrong meter, or of what a list lacks, for which such losses are stated; they grow in proportion."""

TOO_SURE: Final = 5.0
"""Factor by which a chance near one is taken to be too sure of itself."""

LIKELY: Final = 0.5
"""Chance from which a cause is called the answer: more likely than not."""

LOOK_AT: Final = WASTED_LOOK / LOAD_LEFT
"""Chance of a round-the-clock load or a meter from which a look outside is worth its hour: .2."""

TEST_AT: Final = NEEDLESS_TEST / (NEEDLESS_TEST + FAST_LEFT)
"""Chance of a wrong meter, a known load run, at which a test is warranted: .6."""

TEST_FROM_BILLS_AT: Final = 1.0 - KNOWN_LOAD_RUN / NEEDLESS_TEST / TOO_SURE
"""The same from the bills alone: where not even a known-load run is worth its half hour first: .997."""

OPEN_AT: Final = 0.05
"""Chance of a wrong meter from which the question stays open until a known load was run: twice
``KNOWN_LOAD_RUN / FAST_LEFT``, since many meters that are out are out by less."""

DESK_AT: Final = CALL / (CALL + RECORD_LEFT)
"""Chance of a misread bill from which a call is worth it: .1."""

MEASURE_AT: Final = WASTED_LOOK / WEATHER_LEFT
"""Chance of a rise of heating or cooling at which that equipment is worth a week of measuring: two thirds."""

HIDES_PERCENT = 25.0
"""Smallest visible lasting rise [%] from which an all-clear says that a smaller one could hide, and what would show it:
a bill a quarter higher is what people come with (our choice)."""

BLIND_PERCENT = 50.0
"""The same from which no all-clear is given at all: these bills would look alike with a bill half as high again (our
choice)."""

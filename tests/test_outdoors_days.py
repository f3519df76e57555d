"""Days with a temperature are counted once each, whatever the bills overlap or leave out."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from reconcile.house import Bill, House, Weather
from reconcile.house.outdoors import known_days

FIRST = date(2024, 1, 1)
SPANS = st.lists(st.tuples(st.integers(0, 80), st.integers(1, 40), st.booleans()), min_size=1, max_size=6)


@given(SPANS, st.lists(st.booleans(), min_size=60, max_size=60), st.booleans())
def test_known_days_are_those_of_sets(spans, there, weathered):
    bills = tuple(
        Bill(
            FIRST + timedelta(days=begin),
            FIRST + timedelta(days=begin + length),
            kwh=1.0,
            mean_temperature_c=5.0 if printed else None,
        )
        for begin, length, printed in spans
    )
    weather = Weather(FIRST, np.where(there, 5.0, np.nan)) if weathered else None
    known, every = set(), set()
    for begin, length, printed in spans:
        for day in range(begin, begin + length):
            every.add(day)
            if printed or (weathered and day < len(there) and there[day]):
                known.add(day)
    house = replace(House("x", bills), weather=weather)
    assert known_days(house) == (len(known), len(every))

"""A line of the diary ends the question only where what it names could be what the bills show."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from reconcile.answer import reconcile
from reconcile.house import Event
from reconcile.read import read_house

SAMPLES = Path(__file__).parents[1] / "sample_bills"
MAY = date(2025, 5, 10)
"""The sample's load of some 440 W begins about then."""


@pytest.mark.parametrize(
    ("event", "settled"),
    [
        (Event(MAY, "new-load", note="hot tub"), True),
        (Event(MAY, "new-load"), True),
        (Event(MAY, "new-load", note="a new television"), False),
        (Event(MAY, "outage", note="storm"), False),
        (Event(MAY, "repair", note="the stove"), False),
        (Event(MAY, "other"), False),
    ],
    ids=["hot tub", "not named", "television", "outage", "repair", "other"],
)
def test_only_what_could_be_it_accounts_for_a_load(event: Event, settled: bool) -> None:
    house = read_house(SAMPLES / "new_load_in_may")
    verdict = reconcile(replace(house, events=(*house.events, event))).verdict
    assert (verdict.decision == "explained") == settled
    assert ("diary" in verdict.headline) == settled


def test_a_television_bought_on_the_day_of_the_exchange_clears_no_meter() -> None:
    house = read_house(SAMPLES / "fast_meter")
    bought = Event(date(2025, 3, 9), "new-load", note="bought a new television")
    before, after = reconcile(house), reconcile(replace(house, events=(*house.events, bought)))
    assert before.verdict.meter_fast_probability == pytest.approx(after.verdict.meter_fast_probability)
    assert before.verdict.headline == after.verdict.headline

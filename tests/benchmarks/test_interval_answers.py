"""A small run of the bench of whole answers with interval data beside the bills."""

import data_homes
import numpy as np
import pytest
import switching_homes as homes
from interval_answers import METER, line, most_used, parts_of, simulated, simulated_home, since_of

from reconcile import reconcile


@pytest.mark.parametrize(
    ("kind", "said"),
    [("as it is", "explained 1.000"), ("load 200", "found 1.000"), ("heater as it is", "explained 1.000")],
)
def test_each_line_counts_what_was_put_in(kind, said):
    told = line(kind, simulated(kind, 60, 2))
    assert told.startswith(said)
    assert told.endswith("false 0")


def test_a_kind_says_its_sizes():
    assert parts_of("meter 10 exchange") == (0.1, 0.0)
    assert parts_of("load 200") == (0.0, 200.0)
    assert parts_of("always 20") == (0.2, 0.0)
    assert parts_of("solar") == (0.0, 0.0)
    (house, day), *_ = simulated("meter 10 exchange", 60, 1)
    assert [event.day for event in house.events] == [day]
    assert np.isfinite(house.interval.kwh).all()


def test_appliances_that_look_larger_speak_for_no_slow_meter():
    (house, _), *_ = simulated("meter 10", 15, 1)
    causes = {cause.code: cause.probability for cause in reconcile(house).causes}
    assert causes["meter-step"] > 0.9
    assert causes.get("meter-low", 0.0) < 0.03


@pytest.mark.parametrize("seed", [21, 45, 47])
def test_the_most_used_appliance_replaced_accuses_no_meter(seed):
    """Short runs of it look, at a quarter of an hour, like more appliances that moved."""
    made, day = simulated_home(seed), since_of(seed)
    larger = homes.replaced(made, most_used(made), 1.1, day)
    causes = reconcile(data_homes.billed(larger, loads=data_homes.listed(made, seed))).causes
    assert sum(cause.probability for cause in causes if cause.code in METER) <= 0.2

"""Default limits of watts and hours."""

from dataclasses import replace
from itertools import pairwise

import pytest
from numpy.testing import assert_allclose

from reconcile.house import Load
from reconcile.loads.limits import LIMITS, limits

LAMP = Load("lamp", watts=60.0, run_hours=4.0)


def test_better_known_is_narrower():
    told = [limits(replace(LAMP, source=source)) for source in ("measured", "nameplate", "guessed")]
    for better, worse in pairwise(told):
        assert better[0] < worse[0]
        assert better[1] < worse[1]


def test_every_default_has_its_reason():
    assert set(LIMITS) == {"measured", "label", "nameplate", "guessed"}
    assert all(len(entry.reason) > 40 for entry in LIMITS.values())


@pytest.mark.parametrize("source", LIMITS)
@pytest.mark.parametrize("follows", ["clock", "always", "heating", "cooling"])
def test_what_the_householder_says_goes_first(source, follows):
    load = replace(LAMP, source=source, follows=follows, watts_within_percent=1.5, hours_within_percent=0.0)
    assert limits(load) == (1.5, 0.0)


def test_amps_times_volts_is_a_maximum():
    assert limits(replace(LAMP, apparent=True))[0] > limits(LAMP)[0]


def test_round_the_clock_hours_are_nearly_certain_but_a_thermostats_share_is_not():
    assert limits(replace(LAMP, follows="always"))[1] == 1.0
    assert limits(replace(LAMP, follows="always", share_on=0.4))[1] == 30.0


def test_a_yearly_label_has_no_hours():
    watts, hours = limits(Load("fridge", kwh_per_year=500.0, source="label"))
    assert hours == 0.0
    assert_allclose(watts, 25.0, rtol=1e-12)


def test_cycles_are_remembered_not_counted():
    assert limits(Load("washer", kwh_per_cycle=0.3, cycles_per_week=5, source="label"))[1] == 25.0
    assert limits(Load("washer", kwh_per_cycle=0.3, cycles_per_week=5, source="measured"))[1] == 10.0


def test_weather_hours_are_wide():
    assert limits(replace(LAMP, follows="heating", source="measured"))[1] == 35.0

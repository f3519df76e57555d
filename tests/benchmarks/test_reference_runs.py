"""A small run of the bench of registrations from data alone."""

from quiet_nights import ZONE, Hand, run_by_hand
from reference_runs import heaters, nights, with_run

from reconcile.interval.planned_run import read_run


def test_a_meter_fast_since_ever_is_named_from_a_water_heater():
    judged = list(heaters(5, 15, 0.2))
    assert sum(right for right, _ in judged) >= 4
    assert not any(wrong for _, wrong in judged)


def test_planned_runs_hold_what_they_say():
    covered = near = 0
    for interval, zone, first, rng in nights(6, 15, real=False):
        made = with_run(interval, zone, first, 1.2, rng)
        assert made is not None
        read = read_run(made[0], zone, made[1])
        assert read is not None
        covered += read.low <= 1.2 <= read.high
        near += abs(read.registration / 1.2 - 1.0) < 0.05
    assert covered >= 5
    assert near >= 5


def test_a_hand_that_is_minutes_off_is_no_error_of_the_meter():
    near = covered = 0
    for seed in range(5100, 5106):
        made = run_by_hand(seed, 15, 1.2, Hand(5.0, 4.0), (1.0, 2.0, 2))
        assert made is not None
        read = read_run(made[0], ZONE, made[1])
        assert read is not None
        near += abs(read.registration / 1.2 - 1.0) <= 0.04
        covered += read.low <= 1.2 <= read.high
    assert near >= 5
    assert covered >= 5

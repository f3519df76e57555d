"""The simulator itself: energy adds up, and what is said to be wrong is wrong by so much."""

from __future__ import annotations

import ast
from datetime import timedelta
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from acceptance import TABLE, constant_strategies
from checks import with_checks
from climate import CLIMATES, make_sky
from dwelling import EVEN, Conditioner, Uneven, conditioner_kwh
from hand import degree_days, listed_kwh, meter_watts
from kinds import EVERY, KINDS, WORLDS
from scipy.stats import binom
from simulate import simulate
from written import PLAIN_HAND, UNKIND_HAND, off_by

EXACT_PAPER = [kind for kind in KINDS if kind not in ("estimate", "slip", "estimate-fast")]


def billed(case):
    return np.array([bill.kwh for bill in case.house.bills])


def test_the_simulator_shares_no_code_with_what_it_judges():
    allowed = {"reconcile.house", "reconcile.house.site", "reconcile.house.tariff"}
    for name in (
        "simulate",
        "climate",
        "dwelling",
        "people",
        "metering",
        "trouble",
        "written",
        "checks",
        "kinds",
    ):
        tree = ast.parse((Path(__file__).parent / f"{name}.py").read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            for imported in names:
                assert not imported.startswith("reconcile") or imported in allowed, f"{name} imports {imported}"


@pytest.mark.parametrize("world", WORLDS)
def test_a_seed_is_a_house(world):
    one, again, other = (simulate("constant", world, seed) for seed in (3, 3, 4))
    assert one.house == again.house
    assert with_checks(one) == with_checks(again)
    assert one.house.bills != other.house.bills


@pytest.mark.parametrize("world", WORLDS)
@pytest.mark.parametrize("kind", list(KINDS))
def test_energy_adds_up(kind, world):
    case = simulate(kind, world, 11)
    truth = case.truth
    np.testing.assert_allclose(sum(truth.parts_kwh.values()), truth.true_kwh, rtol=1e-9, atol=1e-6)
    bills = case.house.bills
    assert len(bills) == 18
    assert all(a.end == b.start for a, b in pairwise(bills))
    assert (billed(case) > 0).all()
    step = case.house.meters[0].step_kwh
    # whole steps at both ends, a third reading at an exchange
    np.testing.assert_allclose(billed(case).sum(), truth.registered_kwh.sum(), rtol=0, atol=3 * step)
    if kind in EXACT_PAPER:
        np.testing.assert_allclose(billed(case), truth.registered_kwh, rtol=0, atol=2.001 * step)


@pytest.mark.parametrize("kind", EXACT_PAPER)
def test_readings_and_bills_agree(kind):
    for seed in range(3):
        for bill in simulate(kind, "unkind", seed).house.bills:
            if bill.reading_start is not None and bill.reading_end is not None:
                counted = (bill.reading_end - bill.reading_start) % 100_000
                assert counted == pytest.approx(bill.kwh, rel=0, abs=1e-6)


@pytest.mark.parametrize(
    ("kind", "before", "after"),
    [
        ("healthy", 1.0, 1.0),
        ("constant", 1.0, 1.0),
        ("meter-20", 1.0, 1.2),
        ("meter-50-exchange", 1.0, 1.5),
        ("meter-30-always", 1.3, 1.3),
        ("slow-new", 1.0, None),
        ("slow-old", None, 1.0),
    ],
)
def test_the_meter_is_wrong_by_so_much_and_from_then_on(kind, before, after):
    case = simulate(kind, "plain", 5)
    truth = case.truth
    ratio = truth.registered_kwh / truth.true_kwh
    onset = truth.onset_period or 0
    error = 1 + truth.meter_error_percent / 100
    np.testing.assert_allclose(ratio[:onset], error if before is None else before, rtol=0.015, atol=0)
    np.testing.assert_allclose(ratio[onset:], error if after is None else after, rtol=0.015, atol=0)
    assert truth.meter_right == (case.site.factor == pytest.approx(1.0, rel=0, abs=0.015))


@pytest.mark.parametrize("world", WORLDS)
@pytest.mark.parametrize("kind", ["estimate", "slip"])
def test_false_paper_moves_energy_between_two_neighbours(kind, world):
    for seed in range(12):
        case = simulate(kind, world, seed)
        moved = billed(case) - case.truth.registered_kwh
        places = np.flatnonzero(np.abs(moved) > 21)
        assert len(places) == 2
        assert places[1] == places[0] + 1
        assert abs(moved[places].sum()) < 31
        assert billed(case).min() > 0
        estimated = [i for i, bill in enumerate(case.house.bills) if bill.read_type == "estimated"]
        assert estimated == ([places[0]] if kind == "estimate" else [])


def test_heating_goes_with_degree_days_where_the_world_is_even():
    rng = np.random.default_rng(1)
    daily = make_sky(rng, CLIMATES[0], 738000, 540).daily_c
    heater = Conditioner("Heaters", "heating", 6000, 16.0, 0.4)
    kwh = conditioner_kwh(rng, heater, daily, np.zeros(540), EVEN).reshape(18, 30).sum(axis=1)
    dd = np.maximum(16 - daily, 0).reshape(18, 30).sum(axis=1)
    slope = float(dd @ kwh / (dd @ dd))
    assert slope == pytest.approx(6.0 * 0.4, rel=0.05)
    assert np.corrcoef(dd, kwh)[0, 1] > 0.99


def test_a_real_heat_pump_takes_more_for_a_degree_day_when_it_is_cold():
    rng = np.random.default_rng(2)
    daily = np.concatenate([np.full(100, 8.0), np.full(100, -12.0)])
    pump = Conditioner("Heat pump", "heating", 3500, 16.0, 0.6, heat_pump=True, strip_watts=9600)
    kwh = conditioner_kwh(rng, pump, daily, np.zeros(200), Uneven(lag_days=0.5, falling_cop=True))
    mild, cold = kwh[20:90].mean() / 8, kwh[120:].mean() / 28
    assert cold > 1.5 * mild


def test_bills_follow_the_weather_as_houses_do():
    shares = []
    for seed in range(20):
        house = simulate("spells", "plain", seed).house
        days = np.array([bill.days for bill in house.bills])
        columns = [np.ones(18), degree_days(house, 1, 18) / days, degree_days(house, -1, 18) / days]
        daily = np.array([bill.kwh for bill in house.bills]) / days
        fit, *_ = np.linalg.lstsq(np.column_stack(columns), daily, rcond=None)
        rest = daily - np.column_stack(columns) @ fit
        shares.append(1 - rest.var() / daily.var())
    assert np.median(shares) > 0.9


def test_an_honest_hand_keeps_its_limits_and_an_unkind_one_does_not():
    rng = np.random.default_rng(3)
    for limit in (12.0, 45.0):
        honest = np.array([off_by(rng, limit, PLAIN_HAND) for _ in range(4000)])
        unkind = np.array([off_by(rng, limit, UNKIND_HAND) for _ in range(4000)])
        assert honest.mean() == pytest.approx(1, abs=4 * honest.std() / 63)
        out = int((np.abs(honest - 1) > limit / 100).sum())
        low, high = binom.ppf([1e-4, 1 - 1e-4], 4000, 0.05)
        assert low - 20 <= out <= high + 20  # a lognormal of the same moments is a shade off 5 %
        assert (np.abs(unkind - 1) > limit / 100).mean() > 0.15


def used_over_stated(world, seeds):
    """Energy of what people use over what the list says, house by house; idle things left out."""
    for seed in range(seeds):
        case = simulate("healthy", world, seed)
        loads = [
            load
            for load in case.house.loads
            if load.follows == "clock" and load.share_on == 1 and case.truth.parts_kwh[load.name].sum() > 5
        ]
        stated = sum(listed_kwh(case.house, load).sum() for load in loads)
        yield sum(case.truth.parts_kwh[load.name].sum() for load in loads) / stated


def test_the_list_is_right_on_the_average_in_the_plain_world_and_leans_low_in_the_other():
    plain, unkind = (np.array(list(used_over_stated(world, 80))) for world in WORLDS)
    assert plain.mean() == pytest.approx(1.0, abs=4 * plain.std() / np.sqrt(80))
    assert plain.std() < 0.2
    assert unkind.mean() - 1 > 0.0
    assert unkind.std() > 1.3 * plain.std()


def test_the_unkind_world_does_all_it_is_said_to_do():
    late, mid, missing, numbers = 0, 0, 0, 0
    for seed in range(60):
        case = simulate("meter-20", "unkind", seed)
        assert case.house.weather is not None
        missing += case.house.weather.missing_days
        assert int(np.isnan(case.house.weather.mean_c).sum()) == 6
        onset, bills = case.truth.onset, case.house.bills
        assert onset is not None
        mid += all(abs((onset - bill.start).days) > 1 for bill in bills)
        late += case.truth.onset_period in (1, 2, 15, 16)
        numbers += len({bill.meter for bill in bills}) > 1
    assert missing == 360
    assert mid >= 55
    assert 5 <= late <= 30
    assert 2 <= numbers <= 20  # ordinary exchanges, about one house in seven
    plain = [simulate("meter-20", "plain", seed) for seed in range(20)]
    assert all(case.truth.onset in {b.start for b in case.house.bills} for case in plain)


def test_a_holiday_leaves_a_hole():
    for seed in range(10):
        case = simulate("vacation", "plain", seed)
        hands = case.truth.parts_kwh["Lights"] / np.array([bill.days for bill in case.house.bills])
        assert hands.min() < 0.75 * np.median(hands)


@pytest.mark.parametrize("kind", ["constant", "constant-exchange", "leak-vacation"])
def test_a_round_the_clock_load_is_that(kind):
    case = simulate(kind, "plain", 2)
    assert 300 <= case.truth.constant_watts <= 600
    days = np.array([bill.days for bill in case.house.bills])
    after = (case.truth.onset_period or 0) + 1
    watts = case.truth.parts_kwh["trouble"] / days / 0.024
    np.testing.assert_allclose(watts[after:].mean(), case.truth.constant_watts, rtol=0.02)
    assert watts[: after - 1].max() < 25


def test_hot_water_runs_off_where_electricity_warms_it_and_takes_more_in_winter():
    for world in WORLDS:
        case = simulate("hot-water-leak", world, 2)
        assert case.house.water_heating_fuel == "electric"
        assert "Water heater" in {load.name for load in case.house.loads}
        bills = case.house.bills[(case.truth.onset_period or 0) + 1 :]
        watts = case.truth.parts_kwh["trouble"][-len(bills) :] / [bill.days * 0.024 for bill in bills]
        winter = np.array([(bill.start + timedelta(days=15)).month in (12, 1, 2) for bill in bills])
        assert 300 <= case.truth.constant_watts <= 600
        assert watts[winter].mean() > 1.05 * watts[~winter].mean()
        assert 1.06 < watts.max() / watts.min() < 1.6


def test_a_drift_grows_to_what_is_said():
    for seed in range(10):
        case = simulate("drift", "unkind", seed)
        days = np.array([bill.days for bill in case.house.bills])
        daily = case.truth.parts_kwh["trouble"] / days
        assert 3 < daily[-1] <= 8.2
        assert (np.diff(daily) > -0.2).all()


def test_money_is_the_tariff_to_the_cent():
    house = simulate("price-rise", "plain", 1).house
    assert len(house.tariffs) == 2
    for bill in house.bills:
        tariff = [t for t in house.tariffs if t.valid_from <= bill.start][-1]
        fixed, energy, tax = (charge.price for charge in tariff.charges)
        used = (energy * Decimal(str(bill.kwh))).quantize(Decimal("0.01"), "ROUND_HALF_UP")
        expected = fixed + used + ((fixed + used) * tax / 100).quantize(Decimal("0.01"), "ROUND_HALF_UP")
        assert bill.amount == expected


@pytest.mark.parametrize("world", WORLDS)
def test_checks_read_what_is_there(world):
    for kind in ("healthy", "meter-50-exchange", "constant", "slow-new"):
        for seed in range(4):
            case = simulate(kind, world, seed)
            test = with_checks(case).field_test
            assert test is not None
            ratios = [
                (meter_watts(run.registered) - (run.background_w_before + run.background_w_after) / 2)
                / run.reference_watts
                for run in test.runs
            ]
            # a refrigerator that starts in the middle of a run costs the careless up to a tenth of the heater's watts
            assert np.mean(ratios) == pytest.approx(case.site.factor, rel=0.025 if world == "plain" else 0.12)
            assert test.main_off[0].registered.pulses == 0
            night = meter_watts(test.quiet[0].registered) / case.site.factor
            listed = sum(case.site.always_watts.values()) + sum(case.site.box_watts.values())
            assert night - listed > (200 if kind == "constant" else -120)
            assert test.quiet[0].day > case.house.bills[-1].end


def test_other_lengths():
    assert len(simulate("healthy", "unkind", 1, bills=60).house.bills) == 60
    bimonthly = simulate("meter-50", "plain", 1, bills=9, months=2).house
    assert all(55 < bill.days < 68 for bill in bimonthly.bills)
    assert len(simulate("constant", "plain", 1, bills=6).house.bills) == 6


def test_weather_covers_every_bill():
    for world in WORLDS:
        house = simulate("healthy", world, 8).house
        assert house.weather is not None
        assert house.weather.first <= house.bills[0].start
        assert house.weather.last >= house.bills[-1].end + timedelta(days=2)


def test_no_answer_given_always_is_good_enough():
    assert set(TABLE) == set(EVERY)
    assert max(constant_strategies(list(KINDS)).values()) < 0.5

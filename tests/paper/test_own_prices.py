"""Prices by the bills' own money: found to the cent where they are there, not invented where they are not."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import reconcile
from reconcile.house import Bill, House
from reconcile.house.tariff import Charge, Tariff
from reconcile.money import bridge, cost_of
from reconcile.money.exact_lines import exact_lines
from reconcile.money.own_prices import OwnPrice, changes
from reconcile.paper import examine

USE = (620, 588, 431, 377, 402, 655, 812, 790, 540, 396, 455, 610, 640, 571, 449, 380)
LENGTHS = (30, 32, 29, 31, 31, 29, 31, 31, 29, 31, 31, 29, 34, 28, 29, 31)


def cents(amount):
    return Decimal(repr(float(amount))).quantize(Decimal("0.01"), ROUND_HALF_UP)


def house_of(money, use=USE, lengths=LENGTHS, start=date(2024, 1, 9)):
    """A house whose bills ask ``money(position, days, kwh)``."""
    bills, day = [], start
    for k, (days, kwh) in enumerate(zip(lengths, use, strict=False)):
        bills.append(Bill(day, day + timedelta(days), kwh=float(kwh), amount=cents(money(k, days, kwh))))
        day = bills[-1].end
    return House("own prices", tuple(bills))


@settings(max_examples=60, deadline=None)
@given(
    fixed=st.floats(0.0, 40.0),
    price=st.floats(0.05, 0.6),
    by_day=st.booleans(),
    tax=st.floats(0.0, 0.25),
    use=st.lists(st.integers(150, 2500), min_size=8, max_size=30),
)
def test_one_price_is_found_and_its_kwh_cost_what_they_cost(fixed, price, by_day, tax, use):
    lengths = [27 + (7 * k) % 8 for k in range(len(use))]
    house = house_of(lambda k, n, kwh: (fixed * (n / 30 if by_day else 1) + price * kwh) * (1 + tax), use, lengths)
    facts = examine(house)
    found = facts.own_prices
    if found:
        assert len(found) == 1
        assert found[0].per_kwh == pytest.approx(price * (1 + tax), rel=0.02)
        cost = float(cost_of(house, facts, 0, 100.0))
        assert cost == pytest.approx(100 * price * (1 + tax), rel=0.03)
    else:  # nearly all bills alike in use: no two of them tell the fixed charge
        assert len({round(k / n) for k, n in zip(use, lengths, strict=True)}) < len(use)


@pytest.mark.parametrize("last", [2, 4, 7, 11])
@pytest.mark.parametrize("factor", [1.05, 1.3, 0.8])
def test_a_change_of_price_is_dated_and_sized(last, factor):
    since = len(USE) - last
    house = house_of(lambda k, n, kwh: 13.0 + 0.137 * kwh * (factor if k >= since else 1.0))
    facts = examine(house)
    before, after = facts.own_prices
    assert after.periods == tuple(range(since, len(USE)))
    assert after.per_kwh / before.per_kwh == pytest.approx(factor, rel=0.01)
    (change,) = [f for f in facts.findings if f.code == "price-change"]
    assert change.figures["day"] == house.bills[since].start
    more = sum(USE[since:]) * 0.137 * (factor - 1.0)
    assert float(change.amount) == pytest.approx(more, rel=0.1)


def test_a_price_by_season_is_not_told_as_a_rise():
    house = house_of(lambda k, n, kwh: 13.0 + kwh * (0.19 if 4 <= k < 9 else 0.14))
    cases = [f.case for f in examine(house).findings if f.code == "price-change"]
    assert cases == ["seasons"]


@pytest.mark.parametrize(
    "money",
    [
        lambda k, n, kwh: 10 + 0.10 * min(kwh, 300) + 0.25 * max(kwh - 300, 0) + 0.3 * max(kwh - 600, 0),  # blocks
        lambda k, n, kwh: 10 + kwh * (0.13, 0.16, 0.11, 0.19, 0.14)[k % 5],  # another price every month
    ],
    ids=["blocks", "monthly"],
)
def test_where_no_price_serves_none_is_told(money):
    facts = examine(house_of(money))
    assert facts.own_prices == ()
    assert not [f for f in facts.findings if f.code == "price-change"]


def test_a_bill_of_another_kind_does_not_move_the_price():
    facts = examine(house_of(lambda k, n, kwh: 9.1 + 0.224 * kwh + (150.0 if k == 5 else 0.0)))
    assert [round(p.per_kwh, 3) for p in facts.own_prices] == [0.224]


def test_no_price_is_told_as_changed_where_only_use_did():
    house = house_of(lambda k, n, kwh: 9.1 + 0.224 * kwh)
    made = bridge(house, examine(house), [3], [15])
    assert made.parts["price"] == made.parts["fixed"] == 0
    assert sum(made.parts.values()) == made.total


def test_a_house_that_only_pays_more_hears_of_the_price_first():
    house = house_of(lambda k, n, kwh: 13.0 + 0.137 * kwh * (1.3 if k >= 12 else 1.0))
    answer = reconcile.reconcile(house)
    assert "A kWh costs 30 % more since January 7, 2025" in answer.verdict.headline
    prices = answer.to_dict()["money"]["own_prices"]
    assert [p["per_kwh"] for p in prices] == pytest.approx([0.137, 0.178], rel=0.01)


EVEN = (571, 548, 590, 584, 603, 579, 612, 566, 598, 587, 605, 633, 592, 551, 619)


def with_amount(house, i, amount):
    bills = list(house.bills)
    bills[i] = replace(bills[i], amount=cents(amount))
    return replace(house, bills=tuple(bills))


@pytest.mark.parametrize("fee", [0.0, 4.5, 9.0])
@pytest.mark.parametrize("unpaid", [1, 2])
@pytest.mark.parametrize("use", [EVEN, USE])
def test_a_balance_carried_over_is_no_price_and_asks_for_one_thing(fee, unpaid, use):
    house = house_of(lambda k, n, kwh: 11.0 + 0.16 * kwh, use)
    at = 12
    before = sum(float(house.bills[at - 1 - k].amount) for k in range(unpaid))
    house = with_amount(house, at, float(house.bills[at].amount) + before + fee)
    answer = reconcile.reconcile(house)
    (found,) = answer.findings
    assert (found.key, found.periods, found.settles) == ("other-charge/arrears", (at,), False)
    assert float(found.amount) == pytest.approx(before + fee, abs=3.0)
    said = answer.verdict.headline
    assert "unpaid balance" in said
    assert answer.voice.money(cents(before)) in said
    assert "higher prices" not in said
    assert "which-rate" not in {step.code for step in answer.verdict.next_steps}
    assert answer.verdict.next_steps[0].code == "look-for-other-charges"
    assert at not in (*answer.money.bridge.from_periods, *answer.money.bridge.to_periods)


def test_a_balance_carried_over_beside_a_tariff_is_one_finding():
    tariff = Tariff(date(2000, 1, 1), (Charge("Energy", "per_kwh", Decimal("0.16")),))
    house = replace(house_of(lambda k, n, kwh: 0.16 * kwh), tariffs=(tariff,))
    house = with_amount(house, 12, float(house.bills[12].amount + house.bills[11].amount) + 5.0)
    (found,) = examine(house).findings
    assert found.key == "other-charge/arrears"
    assert found.amount == house.bills[11].amount + 5


@pytest.mark.parametrize("at", [0, 5, 12, 14])
@pytest.mark.parametrize("other", [47.0, 12.0, 5.0, 2.5, -8.0, -30.0])
@pytest.mark.parametrize("use", [EVEN, USE])
def test_what_equals_no_earlier_bill_is_another_sum_to_the_cent(at, other, use):
    house = house_of(lambda k, n, kwh: 11.0 + 0.16 * kwh, use)
    (found,) = examine(with_amount(house, at, float(house.bills[at].amount) + other)).findings
    assert (found.key, found.periods) == ("other-charge/off-line", (at,))
    assert float(found.amount) == pytest.approx(other, abs=0.02)


@pytest.mark.parametrize(
    "cost",
    [
        lambda k, n, kwh: 11.0 + 0.12 * min(kwh, 560) + 0.2 * max(kwh - 560, 0),  # blocks
        lambda k, n, kwh: 11.0 + (0.16 + 0.004 * (k * 7 % 5)) * kwh,  # a rider that moves each month
        lambda k, n, kwh: 11.0 + 0.16 * kwh * (1.2 if k >= 9 else 1.0),  # another price
    ],
)
def test_where_no_line_holds_to_the_cent_a_small_sum_is_not_told(cost):
    house = house_of(cost, USE)
    for other in (0.0, 6.0):
        found = examine(with_amount(house, 12, float(house.bills[12].amount) + other)).findings
        assert other > 0 or "off-line" not in {f.case for f in found}


@pytest.mark.parametrize(("fee", "bills"), [(0, 1), (15, 1), (4.5, 2)])
def test_a_balance_in_the_amount_due_is_told_as_one(fee, bills):
    house = house_of(lambda k, n, kwh: 11.0 + 0.16 * kwh)
    before = sum(house.bills[11 - k].amount for k in range(bills))
    due = [b.amount if k != 12 else b.amount + before + cents(fee) for k, b in enumerate(house.bills)]
    house = replace(house, bills=tuple(replace(b, amount_due=d) for b, d in zip(house.bills, due, strict=True)))
    answer = reconcile.reconcile(house)
    (found,) = answer.findings
    assert (found.key, found.figures["unpaid"], found.figures["bills"]) == ("other-charge/due", before, bills)
    assert "most likely an unpaid balance" in answer.verdict.headline


def test_what_every_bill_asks_beside_its_electricity_is_no_balance():
    house = house_of(lambda k, n, kwh: 11.0 + 0.16 * kwh)
    house = replace(house, bills=tuple(replace(b, amount_due=b.amount + 100) for b in house.bills))
    assert {f.key for f in examine(house).findings} == {"other-charge"}


def test_one_bill_alone_is_no_rise_of_the_price():
    house = house_of(lambda k, n, kwh: 11.0 + 0.16 * kwh, EVEN)
    dearer = reconcile.reconcile(with_amount(house, 14, float(house.bills[14].amount) + 17.0))
    assert "higher prices" not in dearer.verdict.headline
    assert "one bill alone cannot tell" in dearer.verdict.headline
    assert "which-rate" not in {step.code for step in dearer.verdict.next_steps}
    several = house_of(lambda k, n, kwh: 11.0 + 0.16 * kwh * (1.2 if k > 10 else 1.0))
    assert "A kWh costs 20 % more" in reconcile.reconcile(several).verdict.headline


@pytest.mark.parametrize(("before", "after"), [(11.5, 26.0), (-13.0, 12.0), (18.0, 12.0)])
@pytest.mark.parametrize("last", [4, 9, 12])
def test_a_fixed_charge_or_a_credit_that_changed_is_no_price_of_a_kwh(before, after, last):
    house = house_of(lambda k, n, kwh: (after if k >= last else before) + 0.1176 * kwh)
    facts = examine(house)
    (change,) = (f for f in facts.findings if f.code == "price-change")
    assert change.case == "own-fixed"
    assert change.periods[0] == last
    assert float(change.figures["each"]) == pytest.approx(after - before, abs=0.02)
    assert change.figures["price"] == pytest.approx(0.1176, rel=1e-3)
    assert float(change.figures["more"]) == pytest.approx((after - before) * (len(USE) - last), abs=0.3)


def test_a_credit_that_ended_is_told_as_such_on_the_first_screen_and_on_the_phone():
    house = house_of(lambda k, n, kwh: (12.0 if k >= 9 else -13.0) + 0.15 * kwh)
    result = reconcile.reconcile(house)
    assert "whatever its kWh" in result.verdict.headline
    assert "A kWh costs the same" in result.verdict.headline
    assert "which-rate" in result.verdict.requests


FLAT = (166, 168, 167, 151, 189, 159, 149, 187, 152, 168, 163, 144, 167, 151, 165, 150, 163, 166, 143, 171)
FLAT_LENGTHS = (31, 32, 32, 28, 35, 29, 27, 34, 29, 31, 31, 28, 31, 29, 32, 28, 31, 33, 28, 33)


@pytest.mark.parametrize("since", [4, 9, 15])
@pytest.mark.parametrize("factor", [1.1, 1.23, 0.85])
@pytest.mark.parametrize("by_day", [False, True])
def test_a_change_of_price_shows_in_a_flat_whose_use_hardly_differs(since, factor, by_day):
    def money(k, n, kwh):
        return (0.39 * n if by_day else 11.84) + 0.1566 * kwh * (factor if k >= since else 1.0)

    house = house_of(money, FLAT, FLAT_LENGTHS)
    facts = examine(house)
    assert [p.periods[0] for p in facts.own_prices] == [0, since]
    (change,) = [f for f in facts.findings if f.code == "price-change"]
    assert change.figures["part"] == pytest.approx(factor - 1.0, abs=0.005)
    assert float(change.amount) == pytest.approx(sum(FLAT[since:]) * 0.1566 * (factor - 1.0), rel=0.03)


def test_each_of_two_rises_is_told_and_their_sum():
    house = house_of(lambda k, n, kwh: 11.85 + kwh * (0.134 if k < 5 else 0.1545 if k < 11 else 0.175))
    rises = [f for f in examine(house).findings if f.code == "price-change"]
    assert [f.figures["day"] for f in rises] == [house.bills[5].start, house.bills[11].start]
    more = sum(b.amount for b in house.bills) - sum(cents(11.85 + 0.134 * b.kwh) for b in house.bills)
    assert float(sum(f.amount for f in rises)) == pytest.approx(float(more), rel=0.02)
    answer = reconcile.reconcile(house)
    assert "13 % more since" in answer.verdict.headline
    assert "15 % more before that since" in answer.verdict.headline
    assert answer.verdict.next_steps[0].code == "which-rate"


@pytest.mark.parametrize("more", [0.07, 0.2])
def test_a_rise_that_is_told_is_asked_about(more):
    house = house_of(lambda k, n, kwh: 11.0 + kwh * 0.16 * (1.0 + more * (k >= 9)))
    answer = reconcile.reconcile(house)
    assert "which-rate" in [step.code for step in answer.verdict.next_steps] or "costs" not in answer.verdict.headline
    assert "costs" in answer.verdict.headline


def test_a_credited_bill_on_the_line_is_no_other_price():
    use = (420, 300, 120, -40, -160, -90, 60, 210, 380, 450, 390, 250, 90, -22, -70, 30)
    facts = examine(house_of(lambda k, n, kwh: 11.85 + 0.1566 * kwh, use))
    (price,) = facts.own_prices
    assert price.periods == tuple(range(16))


@settings(max_examples=60, deadline=None)
@given(
    at=st.integers(2, 13),
    sum_=st.sampled_from((-30.0, -6.0, 5.0, 40.0)),
    use=st.lists(st.integers(140, 190), min_size=16, max_size=16, unique=True),
)
def test_one_odd_sum_is_no_change_of_price_however_alike_the_use(at, sum_, use):
    house = house_of(lambda k, n, kwh: 11.0 + 0.16 * kwh + sum_ * (k == at), use)
    facts = examine(house)
    assert len(facts.own_prices) == 1
    assert not [f for f in facts.findings if f.code == "price-change"]


@settings(max_examples=60, deadline=None)
@given(
    edge=st.integers(250, 700),
    second=st.floats(1.2, 2.0),
    use=st.lists(st.integers(150, 900), min_size=16, max_size=16),
    in_order=st.booleans(),
)
def test_prices_by_blocks_are_not_several_lines(edge, second, use, in_order):
    kwh = np.array(sorted(use) if in_order else use, dtype=float)
    amount = np.round(10.0 + 0.12 * (np.minimum(kwh, edge) + second * np.maximum(kwh - edge, 0)), 2)
    assert len(exact_lines(np.ones(16), kwh, amount, 5)) < 2


def test_a_price_that_the_last_bill_has_left_again_is_one_of_a_season():
    house = house_of(lambda k, n, kwh: 13.0 + kwh * (0.19 if 8 <= k < 12 else 0.13), USE[:13], LENGTHS[:13])
    facts = examine(house)
    assert [price.periods[-1] for price in facts.own_prices] == [7, 11, 12]
    assert [f.key for f in facts.findings] == ["price-change/seasons"]


@pytest.mark.parametrize(("knee", "above"), [(395, 0.085), (700, 0.22)])
def test_bills_of_least_or_of_most_use_off_the_line_are_of_a_block(knee, above):
    house = house_of(lambda k, n, kwh: 13.0 + 0.15 * min(kwh, knee) + above * max(kwh - knee, 0))
    assert [f for f in examine(house).findings if f.case == "off-line"] == []


def test_what_another_price_makes_counts_the_charge_beside_it():
    house = house_of(lambda k, n, kwh: 5.0 + 0.19 * kwh if k < 8 else 25.0 + 0.125 * kwh)
    (change,) = [f for f in examine(house).findings if f.code == "price-change"]
    made = 20.0 * 8 - 0.065 * sum(USE[8:])
    assert float(change.amount) == pytest.approx(made, abs=1.0)
    assert float(change.figures["each"]) == pytest.approx(20.0, abs=1.0)


@pytest.mark.parametrize("place", range(9))
def test_a_price_by_the_block_asks_for_no_fee_and_changes_no_charge(place):
    """Two or three blocks, by the bill or the day, at limits that a quarter or a half of the bills reach."""
    random = np.random.default_rng((14, 25, 27, 47, 65, 74, 77, 97, 108)[place])
    n = int(random.integers(12, 30))
    use = np.round(600 + 200 * np.sin(np.arange(n) * np.pi / 6 + random.uniform(0, 6)) + random.normal(0, 50, n))
    limit = float(np.quantile(use, 0.25 + 0.1 * (place % 3)))

    def money(_, days, kwh):
        at = limit / 30 * days if place % 2 else limit
        return 1.0625 * (12.41 + 0.1437 * min(kwh, at) + 0.2191 * max(kwh - at, 0))

    facts = examine(house_of(money, [int(k) for k in use], [29 + k % 5 for k in range(n)]))
    assert [f.key for f in facts.findings] == []
    assert [p for p in facts.own_prices if p.fixed(30) < 0] == []


@pytest.mark.parametrize(("more", "told"), [(0.94, False), (25.0, True), (55.3, True)])
def test_one_bill_of_the_least_use_may_be_a_block_unless_its_sum_is_round_or_too_large(more, told):
    house = house_of(lambda k, n, kwh: 13.0 + 0.15 * kwh + more * (k == 3), (*USE[:3], 340, *USE[4:]))
    assert [f.key for f in examine(house).findings] == ["other-charge/off-line"] * told


def test_a_first_bill_at_the_price_that_comes_back_is_one_of_a_season():
    house = house_of(lambda k, n, kwh: 13.0 + kwh * (0.19 if 1 <= k < 5 else 0.13), USE[:13], LENGTHS[:13])
    facts = examine(house)
    assert [price.periods[0] for price in facts.own_prices] == [0, 1, 5]
    assert [f.key for f in facts.findings] == ["price-change/seasons"]


def test_a_charge_that_moves_by_no_cent_is_no_change():
    assert changes([OwnPrice((0, 1), 12.0, 0.0, 0.13), OwnPrice((2, 3), 12.004, 0.0, 0.13)]) == ()


def test_bills_of_a_minimum_tell_no_price():
    use = (62, 61, 64, 75, 69, 71, 67, 70, 66, 63, 66, 65, 58, 70, 62)
    facts = examine(house_of(lambda k, n, kwh: max(16.86, 0.23213 * kwh), use))
    assert (facts.own_prices, list(facts.findings)) == ((), [])


@pytest.mark.parametrize(("cut", "first"), [(4, 4), (15, 8), (27, 9)])
def test_the_two_parts_of_a_month_in_which_the_meter_came_ask_one_fixed_charge(cut: int, first: int) -> None:
    """The short part stood out by its price, and the other seemed to hold a credit."""
    bills, day, register = [], date(2024, 1, 5), 6400
    for k, kwh in enumerate((552, 496, 463, 445, 371, 477, 489, 509, 484, 426, 401, 385, 402)):
        parts = [(0, 30, 14.2, kwh)]
        if k == first:
            parts = [(0, cut, 14.2, kwh * cut // 30), (cut, 30, 0.0, kwh - kwh * cut // 30)]
        for opens, closes, fixed, use in parts:
            new = k > first or (k == first and opens > 0)
            if new and bills[-1].meter == "A17":
                register = 0
            amount = Decimal(str(round(fixed + 0.1523 * use, 2)))
            start, end = (day + timedelta(30 * k + at) for at in (opens, closes))
            ends = register + use
            bills.append(
                Bill(
                    start,
                    end,
                    kwh=use,
                    amount=amount,
                    reading_start=register,
                    reading_end=ends,
                    meter="B52" if new else "A17",
                )
            )
            register = ends
    found = {f.key for f in examine(House("Two Parts", tuple(bills))).findings}
    assert found <= {"short-period", "meter-exchange", "meter-exchange/known"}

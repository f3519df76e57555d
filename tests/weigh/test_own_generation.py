"""Houses that make electricity: what they use, a fall of their panels, and what bills of what is left cannot tell."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from weigh_houses import house

import reconcile
from reconcile.facts import Aside
from reconcile.house import Bill, House
from reconcile.loads.own_generation import as_used, course_of_the_sun, makes_its_own, own_use
from reconcile.paper import examine
from reconcile.weigh.constants import SENT_NOTHING
from reconcile.weigh.generation_rows import generation_rows, lost_part
from reconcile.weigh.weighing import weigh_house


def with_panels(fallen=None, part=0.5, *, read=True, seed=3, store=False):
    """Panels under clouds, whose house takes what it draws hour by hour; from one bill on ``part`` makes nothing.

    ``store``: a battery lets it send out two thirds, however much is made.
    """
    rng = np.random.default_rng(seed)
    home = house()
    summer, _ = course_of_the_sun(home)
    sun = np.maximum(np.sin(np.pi * (np.arange(24) - 5.5) / 12.0), 0.0)
    made, sent = np.zeros(18), np.zeros(18)
    for i, bill in enumerate(home.bills):
        bright = rng.uniform(0.3, 1.0, (bill.days, 1)) / 0.65
        hours = 18.0 * (1.0 + 0.5 * summer[i]) * bright * sun / sun.sum()
        if fallen is not None and i >= fallen:
            hours *= 1.0 - part
        used = bill.kwh / bill.days / 24.0 * rng.gamma(1.5, 1.0 / 1.5, (bill.days, 24))
        made[i], sent[i] = hours.sum(), np.maximum(hours - used, 0.0).sum()
    sent = np.round(made / 1.5 if store else sent)
    delivered = np.round(np.array([b.kwh for b in home.bills]) - made + sent)
    bills = tuple(
        replace(
            bill,
            kwh=float(d - s),
            delivered_kwh=float(d) if read else None,
            received_kwh=float(s) if read else None,
        )
        for bill, d, s in zip(home.bills, delivered, sent, strict=True)
    )
    return replace(home, bills=bills, generation=True)


def chance(answer, code):
    return next((c.probability for c in answer.causes if c.code == code), 0.0)


def test_two_registers_without_what_is_left_of_them_are_weighed_alike():
    """Bills that print delivered and received but no kWh between them ended in a fault of the program."""
    for fallen in (None, 10):
        both = with_panels(fallen=fallen)
        apart = replace(both, bills=tuple(replace(bill, kwh=None) for bill in both.bills))
        answers = [reconcile.reconcile(one) for one in (both, apart)]
        assert answers[0].verdict.decision == answers[1].verdict.decision
        assert chance(answers[0], "generation-fall") == pytest.approx(chance(answers[1], "generation-fall"), abs=1e-9)


def test_panels_in_order_are_left_alone():
    answer = reconcile.reconcile(with_panels())
    assert answer.verdict.decision == "explained"
    assert answer.causes[0].code == "none"
    assert not answer.verdict.over.bills


def test_panels_of_which_little_is_left_are_named_first():
    """With a battery; of panels that send out next to nothing from then on, too few bills are left that tell."""
    answer = reconcile.reconcile(with_panels(9, 0.8, store=True))
    cause = answer.causes[0]
    assert cause.code == "generation-fall"
    assert abs((cause.since - answer.house.bills[9].start).days) <= 35
    assert answer.verdict.rule == "generation"


@pytest.mark.parametrize("part", [0.4, 0.5])
def test_panels_that_fail_in_part_are_named_first_with_their_part(part):
    answer = reconcile.reconcile(with_panels(9, part))
    cause = answer.causes[0]
    assert cause.code == "generation-fall"
    assert abs((cause.since - answer.house.bills[9].start).days) <= 35
    assert cause.size_low <= -100.0 * part <= cause.size_high
    assert cause.size == pytest.approx(-100.0 * part, abs=8.0)
    assert answer.verdict.rule == "generation"
    assert "inverter" in [step.code for step in answer.verdict.next_steps]


@pytest.mark.parametrize("fallen", [None, 11])
def test_panels_that_came_within_the_bills_are_named_where_they_fail(fallen):
    made = with_panels(fallen=fallen, part=0.4, seed=4)
    before = tuple(replace(bill, delivered_kwh=bill.kwh, received_kwh=0.0) for bill in house().bills[:5])
    answer = reconcile.reconcile(replace(made, bills=(*before, *made.bills[5:])))
    told = chance(answer, "generation-fall")
    assert told < 0.1 if fallen is None else told > 0.8


def test_panels_are_not_accused_of_what_air_conditioning_and_winter_take():
    """Bills from March on: in spring the house sends out most, in both summers and the winter it takes nearly all."""
    rng = np.random.default_rng(5)
    starts = [date(2024, 3, 5) + timedelta(days=round(30.44 * n)) for n in range(19)]
    bills = []
    for start, end in pairwise(starts):
        month = (start + timedelta(days=15)).month
        days = (end - start).days
        made = days * (14.0 + 8.0 * np.cos(2.0 * np.pi * (month - 6.5) / 12.0)) * np.exp(0.04 * rng.standard_normal())
        used = days * (30.0 + (24.0 if month in (6, 7, 8, 9) else 4.0 if month in (11, 12, 1, 2) else 0.0))
        used *= np.exp(0.05 * rng.standard_normal())
        sent = made * (0.1 if month in (6, 7, 8, 9) else 0.13 if month in (11, 12, 1, 2) else 0.33)
        sent = round(sent * np.exp(0.15 * rng.standard_normal()))
        delivered = round(used - made + sent)
        bills.append(
            Bill(
                start,
                end,
                float(delivered - sent),
                delivered_kwh=float(delivered),
                received_kwh=float(sent),
                expected_generation_kwh=float(round(made)),
            )
        )
    answer = reconcile.reconcile(House("Sun Lane", tuple(bills), generation=True))
    assert chance(answer, "generation-fall") < 0.2


def test_a_fall_is_told_by_its_logarithm():
    assert lost_part(0.0) == 0.0
    assert lost_part(0.5) == pytest.approx(0.5)
    assert 0.9 < lost_part(2.0) < 1.0


def test_a_load_that_came_is_no_fall_of_the_panels():
    home = with_panels()
    more = tuple(
        replace(b, kwh=b.kwh + 0.024 * 400 * b.days, delivered_kwh=b.delivered_kwh + 0.024 * 400 * b.days)
        if i >= 9
        else b
        for i, b in enumerate(home.bills)
    )
    answer = reconcile.reconcile(replace(home, bills=more))
    assert answer.causes[0].code == "constant-load"
    assert chance(answer, "generation-fall") < 0.05


def test_what_is_used_is_what_was_delivered_and_a_part_of_what_was_sent_out():
    home = with_panels()
    facts = examine(home)
    used = as_used(home, facts, lambda: 0.0).billed_kwh
    np.testing.assert_allclose(used, [b.delivered_kwh + 0.5 * b.received_kwh for b in home.bills], rtol=1e-12, atol=0)
    # whatever the bill made of the two registers, the use is the same
    clipped = tuple(replace(b, kwh=max(b.kwh, 0.0)) for b in home.bills)
    other = replace(home, bills=clipped)
    np.testing.assert_allclose(as_used(other, examine(other), lambda: 0.0).billed_kwh, used, rtol=1e-12, atol=0)


def test_the_table_shows_what_was_billed():
    home = with_panels()
    for bill, row in zip(home.bills, reconcile.reconcile(home).rows, strict=True):
        assert row.billed_kwh == bill.kwh
        assert row.usual_low_kwh <= bill.kwh <= row.usual_high_kwh


def test_a_house_without_generation_is_taken_as_billed():
    home = house()
    facts = examine(home)
    assert as_used(home, facts, lambda: pytest.fail("nothing is asked")) is facts


def test_bills_of_what_is_left_say_so_and_accuse_nobody():
    home = with_panels(read=False)
    answer = reconcile.reconcile(home)
    assert any("what is left of use and own generation" in notice for notice in answer.notices)
    assert answer.verdict.decision == "explained"
    assert not answer.verdict.over.bills


def test_a_zero_of_what_is_left_teaches_nothing():
    home = with_panels(read=False)
    bills = tuple(replace(b, kwh=0.0 if i in (5, 6, 17) else b.kwh) for i, b in enumerate(home.bills))
    zeros = replace(home, bills=bills)
    facts = as_used(zeros, examine(zeros), lambda: 9000.0)
    assert facts.set_aside == dict.fromkeys((5, 6, 17), Aside.SENT_OUT_UNKNOWN)
    rows = reconcile.reconcile(zeros).rows
    assert [i for i, row in enumerate(rows) if row.flag == "not-judged"] == [5, 6, 17]
    assert "what was sent out" in rows[5].why_not_judged


def test_a_bill_that_does_not_say_what_was_sent_out_is_not_judged_beside_those_that_do():
    home = with_panels()
    bills = tuple(replace(b, delivered_kwh=None, received_kwh=None) if i == 4 else b for i, b in enumerate(home.bills))
    rows = reconcile.reconcile(replace(home, bills=bills)).rows
    assert [i for i, row in enumerate(rows) if row.flag == "not-judged"] == [4]


def test_rows_of_what_was_sent_out_need_enough_bills_and_hear_no_more_of_the_dark_ones_than_that():
    home = with_panels()
    weighing = weigh_house(home, as_used(home, examine(home), lambda: 9000.0))
    rows = generation_rows(home, weighing.model, weighing.found, weighing.judged)
    assert len(rows.residual) == 18
    dark = tuple(replace(b, received_kwh=1.0) if i < 4 else b for i, b in enumerate(home.bills))
    little = generation_rows(replace(home, bills=dark), weighing.model, weighing.found, weighing.judged).residual
    assert len(little) == 18
    # a kilowatt-hour says no more than that it was little
    assert little[:4].min() > np.log(SENT_NOTHING) - 1.0
    few = tuple(replace(b, received_kwh=None) if i < 11 else b for i, b in enumerate(home.bills))
    assert generation_rows(replace(home, bills=few), weighing.model, weighing.found, weighing.judged) is None


def test_with_its_course_told_a_smaller_fall_is_seen():
    """Where no full year follows, only who knows the course of the sun tells a fall from a season."""
    seen = []
    for told in (False, True):
        for seed in (3, 4, 5):
            home = with_panels(12, 0.15, seed=seed)
            summer, _ = course_of_the_sun(home)
            course = 12.0 * (1.0 + 0.5 * summer) * np.array([b.days for b in home.bills])
            bills = tuple(
                replace(b, expected_generation_kwh=float(c) if told else None)
                for b, c in zip(home.bills, course, strict=True)
            )
            seen.append(chance(reconcile.reconcile(replace(home, bills=bills)), "generation-fall"))
    assert sum(seen[3:]) > sum(seen[:3])


def credited(kinds):
    """Bills that charge what is left (n), all that was delivered (d), or something else (x)."""
    home = with_panels()
    charged = {
        "n": lambda b: b.delivered_kwh - b.received_kwh,
        "d": lambda b: b.delivered_kwh,
        "x": lambda b: 1.3 * b.kwh,
    }
    bills = tuple(replace(b, kwh=float(charged[kind](b))) for b, kind in zip(home.bills, kinds, strict=True))
    facts = examine(replace(home, bills=bills))
    return SimpleNamespace(
        found=[f for f in facts.findings if f.code == "export-not-credited"],
        bills=bills,
        house=replace(home, bills=bills),
    )


def test_energy_sent_out_and_not_credited_is_found_and_counted():
    case = credited("nnnnnnnnnnnnnnnddn")
    (finding,) = case.found
    assert finding.periods == (15, 16)
    assert finding.settles
    assert finding.kwh == sum(case.bills[i].received_kwh for i in (15, 16))
    answer = reconcile.reconcile(case.house)
    assert any("not credited" in reason for reason in answer.verdict.reasons)
    assert "credit-export" in [step.asks for step in answer.verdict.next_steps]


@pytest.mark.parametrize("kinds", ["n" * 18, "d" * 18, "n" + "d" * 17, "n" * 15 + "xxx"])
def test_one_way_of_billing_throughout_is_no_missing_credit(kinds):
    assert not credited(kinds).found


def test_the_sun_is_highest_in_june_north_and_in_december_south():
    north, south = house(), replace(house(), timezone="Pacific/Auckland")
    june = next(i for i, b in enumerate(north.bills) if b.start.month == 6)
    december = next(i for i, b in enumerate(north.bills) if b.start.month == 12)
    for home, sign in ((north, 1.0), (south, -1.0)):
        summer, _ = course_of_the_sun(home)
        assert sign * summer[june] > 0.95
        assert sign * summer[december] < -0.95


def test_a_house_makes_its_own_where_it_says_so_or_sends_any_out():
    plain = house()
    assert not makes_its_own(plain)
    assert makes_its_own(replace(plain, generation=True))
    for sent, made in ((0.0, False), (0.5, True)):
        assert (
            makes_its_own(replace(plain, bills=(replace(plain.bills[0], received_kwh=sent), *plain.bills[1:]))) is made
        )


def test_generation_that_no_register_reads_is_guessed_by_the_sun_with_its_doubt():
    home = with_panels(read=False)
    billed = np.array([b.kwh for b in home.bills])
    days = np.array([b.days for b in home.bills])
    summer, aside = course_of_the_sun(home)
    own = own_use(home, billed, 30.0)
    assert not own.read
    np.testing.assert_allclose(own.kwh, 0.4 * 30.0 * days * (1.0 + 0.5 * summer), rtol=1e-12, atol=0)
    np.testing.assert_allclose(own.doubt[:, 0], 0.75 * own.kwh, rtol=1e-12, atol=0)
    np.testing.assert_allclose(own.doubt[:, 1:], np.column_stack([3.0 * days * summer, 3.0 * days * aside]), atol=1e-9)
    np.testing.assert_allclose(own.scatter, 0.15 * own.kwh, rtol=1e-12, atol=0)


def test_what_was_sent_out_doubts_the_use_by_half_of_its_own_part():
    home = with_panels()
    sent = np.array([b.received_kwh for b in home.bills])
    own = own_use(home, np.array([b.kwh for b in home.bills]), 30.0)
    assert own.read
    np.testing.assert_allclose(own.doubt, 0.25 * sent[:, None], rtol=1e-12, atol=0)
    np.testing.assert_allclose(own.scatter, 0.15 * sent, rtol=1e-12, atol=0)


def test_a_fall_is_seen_under_a_steady_sky():
    """Panels that make 30 % less in four bills of seventeen were told at less: scatter was the same for every sky."""
    home = with_panels(13, 0.3)
    assert chance(reconcile.reconcile(replace(home, bills=home.bills[:17])), "generation-fall") > 0.99


def test_rows_of_what_was_sent_out_are_their_logarithms_with_the_doubt_of_level_and_season():
    home = with_panels()
    weighing = weigh_house(home, as_used(home, examine(home), lambda: 9000.0))
    rows = generation_rows(home, weighing.model, weighing.found, weighing.judged)
    per_day = np.array([b.received_kwh / b.days for b in home.bills])
    summer, aside = course_of_the_sun(home)
    taken = np.array([(b.kwh + b.received_kwh) / b.days for b in home.bills])
    eaten = -(taken - np.median(taken)) / np.exp(np.median(np.log(per_day)))
    left = np.log(per_day) - 0.5 * summer - 0.35 * eaten
    np.testing.assert_allclose(np.diff(rows.residual), np.diff(left), rtol=0, atol=1e-12)
    falls = weighing.kinds("generation-fall")
    waves = np.stack([summer, 0.5 * aside, 0.3 * (summer**2 - aside**2), 0.3 * 2.0 * summer * aside])
    shared = 1.0 + 0.4**2 * waves.T @ waves + 0.25**2 * np.outer(eaten, eaten)
    own = np.diag(0.15**2 + (0.05 * per_day.max() / per_day) ** 2)
    inverse, misfits = np.linalg.inv(shared + own), []
    for fall in rows.effect[:, falls].T:
        size = fall @ inverse @ rows.residual / max(fall @ inverse @ fall, 1e-12)
        misfits.append((rows.residual - size * fall) @ inverse @ (rows.residual - size * fall))
    taught = (4.0 + min(misfits)) / (4.0 + 18.0 - 2.0)  # four bills' worth of belief beside 18 bills
    assert taught < 0.7
    np.testing.assert_allclose(rows.noise, shared + taught * own, rtol=1e-9)
    np.testing.assert_allclose(
        rows.effect[:, falls], -2.0 * np.log(2.0) * weighing.found.acting.mask[:, falls], rtol=1e-12, atol=0
    )
    assert not rows.effect[:, ~falls].any()


def foretold(home, off=1.0):
    """The same house whose bills say what its panels should have made, so many times what they make in order."""
    summer, _ = course_of_the_sun(home)
    made = [off * 18.0 * (1.0 + 0.5 * s) * bill.days for s, bill in zip(summer, home.bills, strict=True)]
    bills = zip(home.bills, made, strict=True)
    return replace(home, bills=tuple(replace(bill, expected_generation_kwh=float(round(kwh))) for bill, kwh in bills))


@pytest.mark.parametrize("seed", [3, 4, 5, 6])
@pytest.mark.parametrize("told", [False, True])
def test_panels_that_make_nothing_any_more_are_said_to_from_the_first_bill_that_sent_out_nothing(seed, told):
    home = with_panels(9, 1.0, seed=seed)
    answer = reconcile.reconcile(foretold(home) if told else home)
    cause = answer.causes[0]
    assert cause.code == "generation-fall"
    assert (cause.size, cause.size_low) == (-100.0, -100.0)
    assert cause.size_high <= -90.0
    assert cause.since == home.bills[9].start
    assert "make nothing, or next to nothing" in answer.verdict.headline


@pytest.mark.parametrize("off", [0.85, 1.0, 1.15])
@pytest.mark.parametrize(("fallen", "part"), [(None, 0.0), (9, 0.5), (9, 1.0)])
def test_what_panels_should_make_tells_their_fall_where_no_register_reads_it(off, fallen, part):
    for seed in (3, 6):
        answer = reconcile.reconcile(foretold(with_panels(fallen, part, read=False, seed=seed), off))
        if fallen is None:
            assert chance(answer, "generation-fall") < 0.1
            assert answer.verdict.decision == "explained"
            continue
        cause = answer.causes[0]
        assert cause.code == "generation-fall"
        assert cause.size_low - 0.5 <= -100.0 * part <= cause.size_high


def test_a_guess_of_what_panels_make_is_told_with_its_doubt():
    """Of a fall to half, with nothing but what is left, 71 % was told, within 64 to 76 %."""
    for seed in (3, 4, 6):
        cause = reconcile.reconcile(with_panels(9, 0.5, read=False, seed=seed)).causes[0]
        assert cause.code == "generation-fall"
        assert cause.size_low <= -50.0 <= cause.size_high


def test_a_load_of_a_house_whose_panels_are_in_order_is_no_fall_of_theirs():
    home = foretold(with_panels(read=False))
    bills = [replace(bill, kwh=bill.kwh + 6.0 * bill.days * (i >= 9)) for i, bill in enumerate(home.bills)]
    answer = reconcile.reconcile(replace(home, bills=tuple(bills)))
    assert chance(answer, "generation-fall") < 0.1
    assert answer.verdict.rule == "lasting"


@pytest.mark.parametrize("seed", [0, 2, 4])
def test_a_bill_that_is_as_usual_is_marked_on_neither_side(seed):
    net = (-30, 132, 179, 121, -77, -194, -110, -24, 83, 130, 81, -49, -32, 54, 217)
    rng, every = np.random.default_rng(seed), np.arange(len(net))
    mean_c = 22.0 - 11.0 * np.cos(2.0 * np.pi * (every - 2.5) / 12.0) + rng.normal(0.0, 1.0, len(net))
    days = [date(2022, 10, 26) + timedelta(31 * k) for k in range(len(net) + 1)]
    bills = tuple(
        Bill(begin, end, kwh=float(kwh), mean_temperature_c=float(mean))
        for (begin, end), kwh, mean in zip(pairwise(days), net, mean_c, strict=True)
    )
    told = reconcile.reconcile(House("Net", bills, generation=True)).periods
    assert (told["usual_low_kwh"] <= told["usual_kwh"]).all()
    assert (told["usual_kwh"] <= told["usual_high_kwh"]).all()
    assert set(told["flag"]) == {"within"}

"""What is said and asked where the sizes of the house's own steps moved, and what the diary answers."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest

import reconcile
from reconcile.clock import day_numbers
from reconcile.costs import COSTS
from reconcile.decide.rules import Case, Site, no_chances
from reconcile.house import Band, Bill, Event, House, Interval
from reconcile.interval.clusters import Cluster
from reconcile.interval.diary import gone_at
from reconcile.interval.gain import gain_signal
from reconcile.interval.resized import GONE
from reconcile.interval.size_change import Change
from reconcile.interval.sizes_moved import sizes_moved
from reconcile.interval.switching import Switching
from reconcile.say import Voice
from reconcile.texts.findings import finding_do, finding_text
from reconcile.texts.meter_words import meter_line, resized_news
from reconcile.verdict.reasons import meter_line_of

WHEN = date(2024, 9, 1)
DAY = int(day_numbers([WHEN])[0])


def changed(*shifts, likelier=9.0, volts=True, days=2):
    """A change by a tenth, with appliances that moved by some shifts."""
    clusters = tuple(Cluster(1.1 + at, shift, 0.015, 100.0, 80.0) for at, shift in enumerate(shifts))
    empty = np.zeros(1)
    return Change(DAY, DAY - days, DAY + days, 0.095, 0.02, likelier, clusters, empty, empty, volts)


def said(change, *events):
    found = sizes_moved(change, SimpleNamespace(events=events))
    return (None, "", "") if found is None else (found, finding_text(found, Voice()), finding_do(found, Voice()))


def test_one_appliance_that_moved_may_have_been_replaced_and_the_household_is_asked():
    finding, text, do = said(changed(0.1, 0.0, 0.01))
    assert (finding.case, finding.settles) == ("one", False)
    assert text.startswith("Since September 1, 2024, one appliance of about 1,100 W switches with 10 % more power")
    assert "replaced would do this, and so would a meter that counts more" in text
    assert "plug-in energy meter" in text
    assert "volts" not in text
    assert '"nothing-replaced"' in do


def test_several_that_moved_by_one_ratio_are_counted():
    finding, text, _ = said(changed(0.1, 0.09, 0.11, volts=False))
    assert (finding.case, finding.figures["moved"]) == ("several", 3)
    assert "3 of the house's own appliances" in text
    assert "supply's volts" in text


def test_the_volts_are_asked_for_where_the_data_carry_none_and_the_diary_does_not_say():
    moved = changed(0.1, 0.09, volts=False)
    finding, _, do = said(moved)
    assert finding.asks == ("volts-then",)
    assert "the volts at your meter in the weeks before and after September 1, 2024" in do
    same, text, _ = said(moved, Event(WHEN, "same-volts"))
    assert not same.asks
    assert "volts" not in text
    other, text, _ = said(moved, Event(WHEN, "volts-changed"))
    assert not other.asks
    assert "By the diary the supply's volts changed then" in text
    assert not said(changed(0.1, 0.09))[0].asks


def test_a_wide_date_is_said_as_its_limits():
    _, text, _ = said(changed(0.1, days=20))
    assert text.startswith("Since a day between August 12, 2024 and September 21, 2024, one appliance")


@pytest.mark.parametrize(
    "change", [changed(0.1, likelier=5.9), changed(0.0), Change(DAY, DAY, DAY, 0.06, 0.02, 9.0, (), 0, 0, False)]
)
def test_what_chance_or_the_volts_may_give_is_not_said(change):
    assert said(change)[0] is None


@pytest.mark.parametrize("kind", ["replaced", "nothing-replaced"])
def test_what_the_diary_has_answered_is_not_asked_again(kind):
    _, text, do = said(changed(0.1), Event(WHEN + timedelta(days=4), kind))
    assert not do
    assert ("By the diary none was replaced" in text) == (kind == "nothing-replaced")
    assert said(changed(0.1), Event(WHEN + timedelta(days=90), kind))[2]


def test_the_diary_moves_the_chance_that_an_appliance_is_another():
    rng = np.random.default_rng(3)
    day = np.sort(rng.integers(0, 300, 700))
    log_kw = np.log(1.1) + 0.1 * (day >= 160) + rng.normal(0, 0.02, len(day))
    seen = Switching(day + DAY - 160, log_kw, np.ones(len(day)), 0.004, 0.4, True, DAY - 160, DAY + 139)
    kinds = ("nothing-replaced", "other", "replaced")
    told = {kind: gain_signal(seen, (), (Event(WHEN, kind),)).change for kind in kinds}
    likelier = [change.likelier for change in told.values()]
    assert likelier == sorted(likelier, reverse=True)
    assert likelier[0] - likelier[2] > 2.0
    assert abs(told["other"].day - DAY) <= 1


def test_a_line_speaks_of_its_own_days_and_some_about_them():
    kept = [Event(WHEN, "nothing-replaced", until=WHEN + timedelta(days=60))]
    days = [WHEN + timedelta(days=at) for at in (-20, -10, 30, 70, 80)]
    assert [gone_at(kept, at) < GONE for at in days] == [False, True, True, True, False]


def test_the_diary_moves_the_chance_that_the_volts_changed():
    rng = np.random.default_rng(4)
    day = np.sort(rng.integers(0, 300, 2500))
    of = rng.choice(np.log([1.1, 1.6, 2.4, 4.4]), len(day))
    log_kw = of + 0.06 * (day >= 160) + rng.normal(0, 0.012, len(day))
    seen = Switching(day + DAY - 160, log_kw, np.ones(len(day)), 0.004, 0.4, False, DAY - 160, DAY + 139)
    kinds = ("same-volts", "other", "volts-changed")
    told = [gain_signal(seen, (), (Event(WHEN, kind),)).change.likelier for kind in kinds]
    assert told[0] > told[1] + 1.0
    assert told[1] > told[2] + 1.0


@pytest.mark.parametrize(
    ("shift", "events", "open_"),
    [
        (0.095, (), True),
        (0.095, (Event(WHEN, "nothing-replaced"),), True),
        (0.095, (Event(WHEN, "replaced"),), False),
        (-0.095, (), False),
    ],
)
def test_more_power_that_no_replacement_explains_leaves_a_question(shift, events, open_):
    moved = changed(shift)
    finding, _, _ = said(replace(moved, shift=shift), *events)
    assert finding.figures["open"] == open_


def one_heater(gain, *events, days=420, since=250):
    """A home in whose quarters of an hour one heater alone shows, its meter faster by a gain from a day on."""
    rng = np.random.default_rng(8)
    watts = rng.gamma(2.0, 60.0, days * 96) + 150.0 + 250.0 * rng.random(days).repeat(96)
    for day in range(days):
        for hour in rng.choice(24, 2, replace=False):
            begin = day * 96 + 4 * int(hour)
            watts[begin : begin + int(rng.integers(3, 7))] += 1060.0
    watts[since * 96 :] *= 1.0 + gain
    first = np.datetime64("2023-01-01")
    begins = [(first + day).astype(date) for day in range(0, days, 30)]
    daily = watts.reshape(days, 96).sum(axis=1) / 4000.0
    bills = tuple(
        Bill(a, b, kwh=float(round(daily[30 * at : 30 * at + 30].sum()))) for at, (a, b) in enumerate(pairwise(begins))
    )
    starts = first.astype("datetime64[s]") + 900 * np.arange(days * 96)
    data = Interval(starts, np.round(watts / 4000.0, 3), 900, volts=np.full(days * 96, 240.0))
    told = tuple(Event(begins[0] + timedelta(days=since), kind) for kind in events)
    return reconcile.reconcile(House("Invented", bills, timezone="UTC", interval=data, events=told, band=Band()))


def test_one_appliance_that_a_fast_meter_moved_is_asked_about_first_and_the_diary_settles_it():
    """One appliance replaced is likelier than a meter that fails, and yet the answer is no all-clear."""
    verdict = one_heater(0.1).verdict
    assert (verdict.decision, verdict.rule) == ("outside-check", "resized")
    assert verdict.next_steps[0].code == "was-it-replaced"
    assert {"known-load", "planned-run"} <= {step.code for step in verdict.next_steps}
    assert "if nothing was replaced, the meter may well be the reason" in verdict.headline
    assert "If none was then, it may well be" in verdict.meter_line
    kept, other = (one_heater(0.1, kind).verdict for kind in ("nothing-replaced", "replaced"))
    assert other.decision == one_heater(0.0).verdict.decision == "explained"
    assert other.meter_fast_probability < verdict.meter_fast_probability < kept.meter_fast_probability
    assert kept.decision == "outside-check"


def meter_said(fast):
    """The line of the meter where appliances switch more, with some chance of a fast one."""
    odds = no_chances(fast=fast)
    given = SimpleNamespace(
        case=Case(False, 12, False, odds, Site(), False, False, False, 0, 0, 0, False, False, resized=True),
        costs=COSTS,
        could_hide=SimpleNamespace(percent=10.0, by="bills"),
        weather_hides=(),
        visible_watts=100.0,
        site=SimpleNamespace(load=None),
        house=SimpleNamespace(field_test=None, interval=True),
        causes=(),
        findings=(said(changed(0.1))[0],),
        voice=Voice(),
    )
    return meter_line_of(given)


def test_a_meter_that_is_very_unlikely_is_not_said_to_be_the_reason():
    assert "since about September 1, 2024 appliances are recorded with 10 % more" in meter_said(0.12)
    assert "recorded with" not in meter_said(0.01)


def test_while_the_supplys_volts_are_open_the_answer_names_them_beside_a_meter():
    even = said(changed(0.1))[0].figures
    assert even["volts"]
    assert "volts" not in resized_news(Voice(), even, 0.12)
    news = resized_news(Voice(), {**even, "volts": False}, 0.12)
    assert "the supply's volts changed, or the meter counts too much" in news
    figures = {"fast": 0.12, "percent": 10.0, "watts": None, "run": "", "resized": {**even, "volts": False}}
    assert "the supply's volts change, far more often than meters fail" in meter_line(figures, Voice())

"""Sizes that are stated: of bills stepped by a known amount, alone and beside a reading on site."""

from dataclasses import replace

import numpy as np
import pytest
from weigh_houses import house

import reconcile
from reconcile.costs import COSTS
from reconcile.house import House, Meter
from reconcile.meter.observation import Observation
from reconcile.paper import examine
from reconcile.weigh import constants
from reconcile.weigh.causes import _fitted, _limits, likeliest_with, likeliest_with_each, name_causes
from reconcile.weigh.evidence import mean_sizes, sizes
from reconcile.weigh.model import build, lay_out
from reconcile.weigh.weighing import weigh_house


def stepped(percent: float, onset: int = 9) -> House:
    """Bills of exactly what the list expects, but for a meter that errs from an exchange on."""
    home = house()
    expected = build(home, examine(home)).mean
    bills = tuple(
        replace(
            bill,
            kwh=float(kwh) * (1.0 + (percent / 100.0 if i >= onset else 0.0)),
            meter="new" if i >= onset else "old",
        )
        for i, (bill, kwh) in enumerate(zip(home.bills, expected, strict=True))
    )
    return replace(home, bills=bills, meters=(Meter(number="old"), Meter(number="new")))


@pytest.mark.parametrize("percent", [20, 30, 50, 100, -30, -50])
def test_a_step_of_all_use_is_stated_as_the_energy_added_over_the_rest(percent):
    code = "meter-step" if percent > 0 else "meter-low"
    cause = next(c for c in reconcile.reconcile(stepped(percent)).causes if c.code == code)
    assert abs(cause.size - percent) < 1.0
    assert cause.size_low < percent < cause.size_high
    # a meter is known to a part of what it counts, so points grow with the size: 10 at +20 %, 16 at +100 %; bills that
    # show no habits do not tell whether such as the house states would last, and of those of its people a part does
    assert cause.size_high - cause.size_low < 0.083 * (100.0 + percent)
    added = sum(cause.pattern_kwh[9:])
    rest = sum(b.kwh for b in stepped(percent).bills[9:]) - added
    assert 100.0 * added / rest == pytest.approx(percent, abs=1.0)


def test_a_test_and_the_bills_that_agree_give_their_common_size_and_nothing_else():
    home = stepped(50)
    facts = examine(home)
    weighing = weigh_house(home, facts, (Observation("registration", 1.5, 0.0115),))
    causes = {cause.code: cause for cause in name_causes(weighing, COSTS.open_at)}
    assert causes["meter-step"].probability > 0.99
    assert abs(causes["meter-step"].size - 50.0) < 1.0
    assert all(c.probability < 0.05 for code, c in causes.items() if code != "meter-step")


LOAD_WATTS, ONSET = 300.0, 9


def in_lasting_ways(seed: int, keeps: float = 0.75, sd: float = 0.04) -> House:
    """A house with habits of which so much lasts from month to month, and a load of 300 W from one reading on."""
    rng, home = np.random.default_rng(seed), house()
    habit = [rng.normal(0.0, sd)]
    for _ in home.bills[1:]:
        habit.append(keeps * habit[-1] + rng.normal(0.0, sd * (1.0 - keeps**2) ** 0.5))
    kwh = build(home, examine(home)).mean * np.exp(habit)
    bills = tuple(
        replace(bill, kwh=round(float(used) + (0.024 * LOAD_WATTS * bill.days if i >= ONSET else 0.0), 1))
        for i, (bill, used) in enumerate(zip(home.bills, kwh, strict=True))
    )
    return replace(home, bills=bills)


def test_limits_of_a_load_hold_it_where_habits_last():
    """In 31 and 32 of 38 where its size was fitted as if most of them were of the month; now in nine of ten: in 142 of
    158 houses of other seeds, so that of these 39 as few as 34 may be held.
    """
    held = []
    for seed in range(100, 140):
        causes = reconcile.reconcile(in_lasting_ways(seed)).causes
        cause = next((c for c in causes if c.code == "constant-load" and c.probability > 0.2), None)
        if cause is not None:
            held.append(cause.size_low <= LOAD_WATTS <= cause.size_high)
    assert len(held) > 30
    assert np.mean(held) > 0.86


def test_limits_are_wide_where_the_bills_show_that_habits_last_and_narrow_where_they_do_not():
    """A size is surer where each month is drawn anew; the same habits, in the order of a long memory, leave it open.

    The middle of sixty houses of other seeds is 0.21 and 0.66.
    """
    heard = {keeps: [weigh_house(home, examine(home)) for home in lived(keeps)] for keeps in (0.0, 0.85)}
    lasts = {keeps: np.median([one.lasting for one in several]) for keeps, several in heard.items()}
    assert lasts[0.0] < 0.4 < 0.6 < lasts[0.85]
    home = in_lasting_ways(7, 0.0)  # whose bills show the onset: where they do not, that leaves the size open too
    weighing = weigh_house(home, examine(home))
    widths, fitted = [], weighing.heard.model
    more = lay_out(home, examine(home)).if_lasting(weighing.model.ways)
    for lasting in (0.0, weighing.lasting, 1.0):
        model = replace(fitted, noise=fitted.noise + (lasting - weighing.lasting) * more)
        causes = name_causes(replace(weighing, heard=replace(weighing.heard, model=model)), COSTS.open_at)
        cause = next(c for c in causes if c.code == "constant-load")
        widths.append(cause.size_high - cause.size_low)
    assert widths[0] < widths[1] < 0.9 * widths[2]


@pytest.mark.parametrize(("seed", "within_watts"), [(4, 10.0), (27, 20.0)])
def test_a_size_is_that_of_every_onset_and_kind_by_its_chance(seed, within_watts):
    """Not of the likeliest alone, which the scatter helped most; a twelfth of it on one that is not likely made the
    upper limit 484 W. Of seed 27 a load that grows has a quarter of the chance: without it the limits were 60 and 120 W
    off.
    """
    home = in_lasting_ways(seed, 0.0)
    weighing = weigh_house(home, examine(home))
    acts, loads = weighing.posterior.acts, ("constant-load", "cold-load", "hot-water-leak", "drift")
    every = np.flatnonzero(weighing.kinds(*loads) & (acts > 1e-4))
    fitted = _fitted(weighing, every.tolist())
    chance = acts[every] / acts[every].sum()
    several = [(part, fitted[one], fitted[one].members.index(one)) for part, one in zip(chance, every, strict=True)]
    to_watts = weighing.shape.per_day / 0.024
    cause = next(c for c in name_causes(weighing, COSTS.open_at) if c.code == "constant-load")
    assert len(every) > 30
    size = sum(part * fit.size[at] for part, fit, at in several)
    assert cause.size == pytest.approx(to_watts * size, rel=0.04)
    assert (cause.size_low, cause.size_high) == pytest.approx(
        [to_watts * x for x in _limits(several)], abs=within_watts
    )


def lived(keeps: float) -> list[House]:
    return [in_lasting_ways(seed, keeps, 0.05) for seed in range(12)]


def evenly(scatter: float, extra_watts: float = 0.0) -> House:
    """Bills of exactly what the list expects and so much more all along, but for a scatter of so much."""
    home, rng = house(), np.random.default_rng(4)
    expected = build(home, examine(home)).mean * np.exp(rng.normal(0.0, scatter, len(home.bills)))
    bills = tuple(
        replace(bill, kwh=round(float(kwh) + 0.024 * extra_watts * bill.days, 1))
        for bill, kwh in zip(home.bills, expected, strict=True)
    )
    return replace(home, bills=bills)


def test_what_the_list_decides_is_no_surer_where_a_household_lives_evenly():
    """Limits of every load, and of what is missing from the list, are the list's own, however little the bills vary."""
    even, other = (reconcile.reconcile(evenly(scatter)) for scatter in (0.003, 0.03))
    for mine, theirs in zip(even.loads, other.loads, strict=True):
        assert mine.high_kwh - mine.low_kwh > 0.85 * (theirs.high_kwh - theirs.low_kwh)
    even, other = (reconcile.reconcile(evenly(scatter, 600.0)) for scatter in (0.003, 0.03))
    short, also = (next(c for c in answer.causes if c.code == "unlisted") for answer in (even, other))
    assert short.size_high - short.size_low > 0.85 * (also.size_high - also.size_low)


def test_what_acts_all_along_is_as_large_as_the_table_of_causes_says(monkeypatch):
    """Nothing but its prior tells how much of the level is its own; twice as wide made it larger."""
    home = evenly(0.03, 400.0)
    weighing, told = weigh_house(home, examine(home)), []
    for wide in (constants.SIZING_WIDE, 1.0):
        monkeypatch.setattr(constants, "SIZING_WIDE", wide)
        told.append({cause.code: cause.size for cause in name_causes(weighing, COSTS.open_at)})
    assert told[0]["unlisted"] == pytest.approx(told[1]["unlisted"], rel=1e-9)


@pytest.mark.parametrize("left", [0.05, 0.02])
def test_nothing_falls_by_more_than_all_of_it(left: float) -> None:
    """The curve that is fitted to a house that stands nearly empty reaches beyond."""
    stands_empty = house(factor=np.where(np.arange(18) >= 11, left, 1.0), rest=9.0)
    falls = [c for c in reconcile.reconcile(stands_empty).causes if c.unit == "%" and (c.size or 0.0) < 0.0]
    assert falls
    assert all(-100.0 <= c.size_low <= c.size <= c.size_high for c in falls)


def test_the_likeliest_models_with_many_patterns_and_their_sizes_are_found_at_once():
    home = stepped(30)
    weighing = weigh_house(home, examine(home))
    data, candidates, posterior = weighing.data, weighing.candidates, weighing.posterior
    rng = np.random.default_rng(1)
    three = np.sort([rng.choice(len(posterior.single), 3, replace=False) for _ in range(40)], axis=1)
    # many are as likely as others, and some of three patterns the likeliest
    changed = replace(posterior, pair=np.round(posterior.pair, 3), triples=three, triple=np.round(rng.random(40), 1))
    for each in (posterior, changed):
        every = range(len(each.single))
        found = likeliest_with_each(each, every)
        assert found == {pattern: likeliest_with(each, (pattern,)) for pattern in every}
        for members, size in mean_sizes(data, candidates, set(found.values())).items():
            np.testing.assert_allclose(size, sizes(data, candidates, members)[0], rtol=1e-9, atol=1e-12)
    assert {len(members) for members in found.values()} == {1, 2, 3}

"""The level of all bills against the list: as far as it is, and what follows from it."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from weigh_houses import house

import reconcile
from reconcile.decide.rules import Case, Site, decide, no_chances
from reconcile.paper import examine
from reconcile.plan.next_steps import next_steps
from reconcile.plan.situation import Situation
from reconcile.weigh.level import FAR_BELOW, level, level_size
from reconcile.weigh.weighing import weigh_house


def weighed(factor):
    home = house(factor=np.broadcast_to(factor, 18))
    return weigh_house(home, examine(home))


def test_bills_as_listed_stand_nowhere():
    part, score, below = level(weighed(1.0))
    assert abs(part) < 0.05
    assert abs(score) < 1.0
    assert below < 0.05


@pytest.mark.parametrize("factor", [0.8, 1.25, 1.5])
def test_the_level_is_total_over_total(factor):
    weighing = weighed(factor)
    part, score, _ = level(weighing)
    residual = weighing.bills.residual
    assert part == pytest.approx(residual.sum() / weighing.model.mean.sum(), abs=0.02)
    assert np.sign(score) == np.sign(factor - 1.0)


@pytest.mark.parametrize("factor", [0.6, 0.7, 0.9, 1.0, 1.2, 1.4, 1.6])
def test_the_level_is_held_to_the_list_as_it_is_stated(factor):
    """Bills of which none lay within the list's own range were told as no further off than its limits allow."""
    answer = reconcile.reconcile(house(factor=np.full(18, factor)))
    inside = np.mean([row.low_kwh <= row.billed_kwh <= row.high_kwh for row in answer.rows])
    told = next((reason for reason in answer.verdict.reasons if "list of loads alone" in reason), "")
    noted = any("stand further off the list" in notice for notice in answer.notices)
    if told:
        assert ("more than its limits allow" in told and "no more" not in told) == noted
    if inside == 0.0:
        assert noted
    if inside == 1.0:
        assert not noted


def test_no_list_is_short_of_bills_that_do_not_reach_it():
    """A vacation home that used half of what its list says was told to lack heating on that list."""
    home = house(factor=np.full(18, 0.5) + 0.1 * np.cos(np.arange(18)))
    assert weigh_house(home, examine(home)).chance("list-short") < 1e-6


def test_a_step_is_no_level():
    part, _, below = level(weighed(1.0 + 0.5 * (np.arange(18) >= 9)))
    assert abs(part) < 0.08
    assert below < 0.05


def test_what_a_cause_of_the_level_adds_is_about_what_stands_above():
    assert level_size(weighed(1.5)) == pytest.approx(0.5, abs=0.15)


def test_far_below_is_the_odds_of_two_densities():
    weighing = weighed(0.55)
    _, _, said = level(weighing)
    chance, size, sd = FAR_BELOW
    mean = weighing.model.mean[weighing.judged]
    # the same by adding up over the size; nothing here begins and lasts but what the weighing says of it
    changing = ~weighing.kinds(
        "meter-always",
        "unlisted",
        "list-short",
        "unlisted-heating",
        "unlisted-cooling",
        "single-high",
        "single-low",
        "absence",
        "swap",
        "swap-back",
        "catch-up",
        "trued-up",
    )
    columns = weighing.candidates.columns[: len(mean)]
    left = weighing.bills.residual - columns @ (weighing.candidates.shift * weighing.posterior.acts * changing)
    covariance = weighing.model.covariance[np.ix_(weighing.judged, weighing.judged)] * max(1.0, weighing.bills.scale)
    sizes = np.linspace(size - 6 * sd, size + 6 * sd, 4001)
    normal = stats.multivariate_normal(np.zeros(len(mean)), covariance)
    there = np.exp(normal.logpdf(left - sizes[:, None] * mean) - normal.logpdf(left))
    density = (there * stats.norm(size, sd).pdf(sizes)).sum() * (sizes[1] - sizes[0])
    odds = density * chance / (1.0 - chance)
    assert said == pytest.approx(odds / (1.0 + odds), rel=1e-3)


@pytest.mark.parametrize(("factor", "rule"), [(1.0, "explained"), (1.6, "above-list"), (0.4, "below-list")])
def test_what_is_done_about_the_level(factor, rule):
    assert reconcile.reconcile(house(factor=np.full(18, factor))).verdict.rule == rule


@pytest.mark.parametrize(
    ("far_below", "score", "measured", "seen"),
    [(0.6, -2.5, 3, 1), (0.4, -2.5, 1, 1), (0.4, -1.5, 0, 0)],
)
def test_bills_below_what_the_list_allows_ask_whose_they_are_and_for_a_load_to_measure(
    far_below, score, measured, seen
):
    answer = reconcile.reconcile(house())
    odds = no_chances(none=0.9, far_below=far_below, level_percent=-60.0, level_score=score)
    case = Case(False, 18, True, odds, Site(), False, False, False, 0, 0, 0, False, False)
    situation = Situation(answer.house, answer.voice, decide(case), case, measures=answer.measures)
    codes = [step.code for step in next_steps(situation)]
    assert (codes.count("measure"), codes.count("compare")) == (measured, seen)
    known = replace(situation, case=replace(case, site=Site("inside", read=True)))
    assert "compare" not in [step.code for step in next_steps(known)]  # a known load told that the meter is right


def test_a_meter_fast_since_the_first_bill_is_told_with_its_chance_and_a_known_load():
    answer = reconcile.reconcile(house(factor=np.full(18, 1.3)))
    assert answer.verdict.meter_fast_probability > 0.01
    assert "meter-always" in [cause.code for cause in answer.causes]
    assert "Is the meter fast?" in answer.verdict.meter_line
    assert any("plug-in" in step.text for step in answer.verdict.next_steps)

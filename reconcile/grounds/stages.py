"""What an answer rests on: first all that is certain without statistics, then the weighing of what is left."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from reconcile import interval, meter, paper
from reconcile.facts import Facts, Finding, by_the_hours
from reconcile.grounds.data_run import evidence_of
from reconcile.grounds.ranges import Heard
from reconcile.house import House
from reconcile.loads.own_generation import as_used
from reconcile.records import dataclass
from reconcile.weigh.measure import says_less
from reconcile.weigh.model import Model, build
from reconcile.weigh.weighed import Weighing
from reconcile.weigh.weighing import weigh_house

LOST = "multiplier/lost"
"""Finding that the later bills lack the multiplier of those before."""

DAYS_AWAY = ("away",)
"""Kinds of a diary line by which a bill's own use is known to be less: the ranges are of them too."""


@dataclass(frozen=True, slots=True)
class Certain:
    """What records, interval data and readings on site show by themselves."""

    house: House
    """With its dates as its own hours show them to be meant."""
    facts: Facts
    intervals: interval.IntervalResult | None
    test: meter.FieldTestResult | None
    observations: tuple[meter.Observation, ...]
    told: meter.Observation | None = None
    """What the utility's own test of the meter gave, which then stands for any run of the household's."""

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, those of the interval data among them."""
        return self.facts.findings


@dataclass(frozen=True, slots=True)
class Weighed:
    """Bills weighed against what the house should have used."""

    facts: Facts
    """With the bills set aside whose use is not known behind the house's own generation."""
    used: Facts
    """The same with what was used in place of what was billed."""
    heard: Heard
    model: Model
    by_list: Weighing | None
    """With the list of loads; None where no bill is judged."""
    weighing: Weighing | None
    """The one that is told: without the list, where that predicts the bills better."""
    untold: Weighing | None
    """The same without what the diary tells of a change, from which the ranges are: a line of it marks no bill."""

    @property
    def vague(self) -> bool:
        """Whether the list says less of these bills than they say of one another."""
        return self.weighing is not self.by_list


def certain(house: House) -> Certain:
    """Gather what is certain of a house.

    Parameters
    ----------
    house : House
        With at least one bill.
    """
    house, own_power = interval.with_own_power(paper.as_instalments(house))
    facts = paper.examine(house)
    intervals = interval.examine(house, facts) if house.interval is not None else None
    if intervals is not None and intervals.inclusive_dates and not any(bill.inclusive for bill in house.bills):
        # the hours show that the printed first and last day both count: the dates are read so from here on
        house = replace(house, bills=tuple(replace(bill, inclusive=True) for bill in house.bills))
        facts = paper.examine(house)
        intervals = interval.examine(house, facts) or intervals
    findings = facts.findings
    if intervals is not None:
        sure, split = interval.edges_told(intervals.tie_out)
        facts = replace(facts, sure_edges=sure, loose_edges=facts.loose_edges | split)
        findings = by_the_hours((*findings, *own_power, *interval.findings(intervals, house)))
    facts = paper.setting_aside(facts, paper.by_amount(house, facts, findings))
    test = meter.judge_test(house) if _tested(house) else None
    observations = tuple(meter.observations(house, test)) if test is not None else ()
    if (told := meter.told_registration(house)) is not None:  # with better instruments than a household's
        observations = (*(one for one in observations if one.kind != "registration"), told)
    return Certain(house, facts, intervals, test, observations, told)


def weighed(known: Certain, odds: Mapping[str, float]) -> Weighed:
    """Weigh the bills, with the list of loads and, where that is too vague to help, without it.

    Parameters
    ----------
    odds : mapping of str to float
        Factors on the causes' own odds, by code.
    """
    house = known.house
    used = as_used(house, known.facts, lambda: float(build(house, known.facts).mean.sum()))
    facts = replace(known.facts, set_aside=used.set_aside)
    # with a sign of danger nothing is weighed: people before bills
    heard = _nobody(facts) if house.dangers else _heard(facts)
    if not heard.judged.any():
        return Weighed(facts, used, heard, build(house, used), None, None, None)
    # hours that add up to bills from which a multiplier was left out fell as these did, and no cause made it
    left_out = any(finding.key == LOST and finding.settles for finding in known.findings)
    evidence = () if left_out else evidence_of(known.intervals, house)
    by_list = weigh_house(house, used, known.observations, evidence=evidence, heard=heard.predict, odds=odds)
    weighing, unlisted = by_list, replace(house, loads=())
    if house.loads and not known.observations and says_less(by_list.model, lambda: build(unlisted, used)):
        alone = weigh_house(unlisted, used, evidence=evidence, heard=heard.predict, odds=odds)
        weighing = alone if alone.log_evidence > by_list.log_evidence else by_list
    untold, events = weighing, tuple(event for event in house.events if event.kind in DAYS_AWAY)
    if events != house.events:
        seen = known.observations if weighing is by_list else ()
        bare = replace(house if weighing is by_list else unlisted, events=events)
        untold = weigh_house(bare, used, seen, evidence=evidence, heard=heard.predict, odds=odds)
    return Weighed(facts, used, heard, by_list.model, by_list, weighing, untold)


def _tested(house: House) -> bool:
    test = house.field_test
    return test is not None and bool(test.runs or test.quiet or test.main_off or test.branches)


def _nobody(facts: Facts) -> Heard:
    """No bill is judged, and none predicts another."""
    none = np.zeros(len(facts.billed_kwh), dtype=bool)
    return Heard(none, none)


def _heard(facts: Facts) -> Heard:
    """Bills judged, and those that predict the others: one that its interval data or its amount contradict does not."""
    judged = np.isfinite(facts.billed_kwh)
    judged[list(facts.set_aside or {})] = False
    predict = judged.copy()
    contradicted = {
        i
        for finding in facts.findings
        if finding.code in ("interval-mismatch", "unit-price") and finding.settles
        if not facts.sum_stands(finding)
        for i in finding.periods
    }
    if len(contradicted) < int(judged.sum()):
        predict[list(contradicted)] = False
    return Heard(judged, predict if predict.any() else judged)

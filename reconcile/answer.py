"""The main job: one house in, one answer out. Facts, then inferences, then the one answer that every page renders."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reconcile import interval, meter, money
from reconcile.clock import as_day
from reconcile.costs import COSTS, Costs, checked_costs
from reconcile.decide.rules import OFF_LEVEL, Chances, Site, chances
from reconcile.decide.timer import Timer, timer_of
from reconcile.decide.told import diary_line, large_enough_to_date
from reconcile.facts import Finding
from reconcile.grounds.data_run import DataRun, could_hide, from_data
from reconcile.grounds.load_shares import OF_THE_LIST, load_shares
from reconcile.grounds.ranges import bands_of, less_own, rows_of, view_of
from reconcile.grounds.stages import Certain, Weighed, certain, weighed
from reconcile.house import House
from reconcile.house.outdoors import known_days
from reconcile.kinds import LARGE_MEAN, LARGE_SD, OWN_METER, CauseCode, Flag
from reconcile.plan.night_run import planned
from reconcile.plan.suspects import suspects_of
from reconcile.plan.worth import sizes_of, weights_of
from reconcile.prior_odds import checked_odds
from reconcile.read.in_memory.check_house import check_house
from reconcile.result import Cause, Period, Reconciliation
from reconcile.say import Voice, listed
from reconcile.texts.cause_words import cause_text, kwh_a_day, size_told, unsure
from reconcile.texts.field.field_test import branch_found
from reconcile.texts.meter_words import of_bills
from reconcile.texts.money import bridge_sentence
from reconcile.texts.notices import NOTICES
from reconcile.verdict.cases import Told, case_of
from reconcile.verdict.dearer import came, why_dearer
from reconcile.verdict.exchange_news import exchanges_asked
from reconcile.verdict.reasons import Inputs, SiteReadings, bills_out, leading_of
from reconcile.verdict.verdict import supposed_registration, verdict_of
from reconcile.voices import voice_of
from reconcile.weigh.absent import noted_absences
from reconcile.weigh.causes import name_causes
from reconcile.weigh.measure import next_measures, vaguest
from reconcile.weigh.model import Model
from reconcile.weigh.weighed import Weighing

Floats = NDArray[np.float64]

ALL_OF_IT = 99.5
"""Fall [%] from which nothing is left."""

SURE_SIDE = 0.975
"""Chance that a run lies outside the meter's limits on one side from which its side is told (95 % limits)."""

LEANS_AT = 0.9
"""The same from which a run that cannot tell leaves the meter in question: errors as small as its doubt show in no bill
(our judgement)."""

TOLD_TIMES = 1.1
"""Times by which the bills scatter more than stated from which the number is told (it is written with two digits)."""


def reconcile(
    house: House, *, odds: Mapping[CauseCode, float] | None = None, costs: Costs | Mapping[str, float] | None = None
) -> Reconciliation:
    """Weigh a house's bills against its loads, and say what to do.

    Parameters
    ----------
    house : House
        As read by :func:`reconcile.read_house`, or built by hand; with at least one bill.
    odds : mapping of str to float, optional
        By how much likelier each cause is, before any bill is seen, than :func:`reconcile.priors` says: its code, and a
        factor on its odds. Houses chosen because somebody complained have faults more often.
    costs : Costs or mapping of str to float, optional
        What wrong acts cost; every chance at which something is looked at, tested or called likely follows from them.

    Returns
    -------
    Reconciliation

    Raises
    ------
    InputError
        Where the house was built by hand and is none that files could hold: every fault at once.
    ValueError
        Where it has no bill; naming every factor that is of no cause or not above 0, and every cost that is none.
    """
    check_house(house)
    factors, costs = checked_odds(odds), checked_costs(costs)
    if not house.bills:
        raise ValueError("a house without a single bill cannot be weighed")
    voice = voice_of(house)
    known = certain(house)
    made = weighed(known, factors)
    house, intervals, findings = known.house, known.intervals, known.findings
    facts, used, model, weighing = made.facts, made.used, made.model, made.weighing

    causes = _causes(weighing, house, voice, costs, intervals)
    own = np.nan_to_num(used.billed_kwh - facts.billed_kwh)
    bands = less_own(bands_of(house, used, model, made.heard, made.untold, costs), own)
    rows = rows_of(house, facts, model.mean - own, bands, causes, costs)
    causes = _none_apart(causes, rows, findings, voice)
    view = view_of(weighing, facts, costs)
    measures = next_measures(house, made.by_list)
    account = _account(known, made, rows, causes, costs)

    leading = max((c.probability for c in causes if c.code != "none"), default=0.0)
    groups = chances(weighing, leading) if weighing is not None else None
    findings = exchanges_asked(findings, rows, groups, costs)
    likeliest = leading_of(causes, costs.look_at, bills_out(rows))
    event, settled = diary_line(house, weighing, rows, causes, likeliest)
    wrong = 0.0 if groups is None else groups.fast + groups.slow
    site, readings = _site(known, from_data(intervals, house, wrong, costs.likely), causes)
    percent = view.meter_percent if view is not None else None
    run = (
        DataRun(readings.percent, readings.expanded, "cannot-tell")
        if site.run in ("cannot-tell", "inside") and readings.percent is not None and readings.expanded is not None
        else None
    )
    told = Told(
        rows, causes, diary=settled, danger=bool(house.dangers or readings.dangers), costs=costs,
        listed=bool(house.loads) and not made.vague, one_factor=facts.one_factor,
        tied=_tied(rows, intervals),
    )  # fmt: skip
    case = case_of(house, findings, told, groups, site)
    if case.whose and not case.site.run:  # nothing is said of a meter before that is seen, nor what a test would give
        causes = tuple(replace(cause, text=of_bills(cause.text)) for cause in causes)
        account = None if account is None else account.supposing(facts, None)
    shares = load_shares(house, model, made.by_list, causes, used.billed_kwh)
    arrived = came(house, account, model, used.billed_kwh)
    dearest, pricier = why_dearer(account, weighing, findings, voice, arrived)
    verdict = verdict_of(
        Inputs(
            house=house,
            voice=voice,
            case=case,
            rows=rows,
            findings=findings,
            causes=causes,
            site=readings,
            measures=measures,
            weights=weights_of(weighing),
            sizes=sizes_of(causes),
            suspects=suspects_of(house, model.parts, causes, account, costs, intervals),
            told=event,
            visible_percent=percent,
            could_hide=could_hide(percent, run, intervals, house),
            visible_watts=view.constant_watts if view is not None else None,
            weather_hides=view.weather if view is not None else (),
            money_sentence=_money_sentence(account, voice),
            shares=shares,
            dearest=dearest,
            pricier=pricier,
            planned=planned(house, None if intervals is None else intervals.run),
        )
    )
    scale = float(np.sqrt(weighing.bills.scale)) if weighing is not None else None
    off = weighing is not None and _off_list(weighing, groups)
    doubted = weighing is not None and (weighing.model.doubted or off)
    return Reconciliation(
        house=house,
        rows=rows,
        findings=findings,
        causes=causes,
        verdict=verdict,
        loads=shares,
        money=account,
        interval=intervals,
        field_test=known.test,
        visible=view.shown if view is not None else None,
        measures=measures,
        load_kwh=tuple(map(tuple, model.parts.T.tolist())),
        degree_days=(
            tuple(model.energy.degree_days[:, 0].tolist()),
            tuple(model.energy.degree_days[:, 1].tolist()),
        )
        if model.weathered
        else None,
        over_confident=doubted,
        doubt_scale=scale,
        notices=_notices(house, model, made.vague, (off, scale if doubted else None), voice, intervals),
        costs=None if costs == COSTS else costs,
        odds=factors,
    )


def _tied(rows: Sequence[Period], found: interval.IntervalResult | None) -> bool:
    """Whether the interval data add up to every bill that stands out: its readings are right."""
    ties = {} if found is None else {tie.period: tie.within for tie in found.tie_out}
    out = [i for i, row in enumerate(rows) if row.flag in (Flag.OVER, Flag.UNDER)]
    return bool(out) and all(ties.get(i) for i in out)


def _causes(
    weighing: Weighing | None, house: House, voice: Voice, costs: Costs, found: interval.IntervalResult | None
) -> tuple[Cause, ...]:
    if weighing is None:
        return ()
    told = [event.day for event in house.events if large_enough_to_date(event, weighing.shape.per_day)]
    change = None if found is None or found.gain is None else found.gain.change
    moved = as_day(change.day) if change is not None and change.cuts else None
    named = name_causes(weighing, costs.open_at, told, moved)
    timed = [_in_time(cause) for cause in named]
    known = {"hours": house.hours_known, "weathered": weighing.model.weathered}
    return tuple(_told(cause, voice, timer_of(found, cause), known) for cause in timed)


def _none_apart(
    causes: Sequence[Cause], rows: Sequence[Period], findings: Sequence[Finding], voice: Voice
) -> tuple[Cause, ...]:
    """Say that no cause is needed of the other bills alone, where some stand out or a fact speaks of them."""
    out = {i for i, row in enumerate(rows) if row.flag in (Flag.OVER, Flag.UNDER)}
    facts = {i for f in findings if f.settles for i in f.periods}
    out |= facts if len(facts) < len(rows) else set()
    if not out:
        return tuple(causes)
    first = rows[min(out)]
    apart = f"the bill of {voice.span(first.start, first.end)}" if len(out) == 1 else f"{len(out)} bills"
    return tuple(
        replace(cause, text=cause_text("none-apart", cause.probability, {"apart": apart}, voice))
        if cause.code == "none"
        else cause
        for cause in causes
    )


def _in_time(cause: Cause) -> Cause:
    """An old meter's error has a last day, and no first one."""
    if cause.code == "old-meter-slow":
        return replace(cause, since=None, until=cause.since)
    return cause


def _told(cause: Cause, voice: Voice, timer: Timer | None, known: Mapping[str, bool]) -> Cause:
    limits = (cause.size_low, cause.size_high)
    size = "" if cause.size is None else size_told(cause.size, cause.unit, limits, voice)
    figures = {
        "size": size, "since": cause.since, "until": cause.until, "fell": (cause.size or 0.0) < 0.0, **known,
        "a_day": kwh_a_day(cause.size or 0.0, limits), "timer": timer, "grew_until": cause.grew_until,
        "unsure": None if cause.one_of else unsure(cause.since, cause.since_low, cause.since_high),
        "one_of": cause.one_of, "bills": sum(abs(kwh) >= 1.0 for kwh in cause.pattern_kwh),
        "seasonal": cause.seasonal, "all_of_it": cause.unit == "%" and (cause.size or 0.0) <= -ALL_OF_IT,
    }  # fmt: skip
    kwh = cause.kwh if abs(cause.kwh or 1.0) > 1e-6 else 0.0  # a sum of nothing is nothing
    return replace(cause, kwh=kwh, text=cause_text(cause.code, cause.probability, figures, voice))


def _site(known: Certain, read: DataRun | None, causes: Sequence[Cause] = ()) -> tuple[Site, SiteReadings]:
    """What the readings on site say, for the decision and the sentences; or a run in the data where it is better."""
    judged = known.test
    percent, expanded, zone = (None, None, "") if read is None else (read.percent, read.expanded, read.zone)
    load = None if read is None or read.load is None else read.load
    by = None if load is None else {"load": load.name, "listed": load.listed_watts, "seen": load.seen_watts}
    if judged is None:
        site = Site(_side(zone, percent), by_list=load is not None)
        return _by_the_utility(known.told, site, SiteReadings(percent=percent, expanded=expanded, load=by))
    result = judged.registration
    # a set of readings that does not hold together says nothing of the meter: the run is still to be made
    own = "" if result is None or judged.doubtful else result.zone
    if result is not None and (own not in ("", "cannot-tell") or not zone):
        percent, expanded, zone, by = result.percent, result.expanded_percent, own, None
    counts = judged.main_off_zone == "outside"
    leans = own == "cannot-tell" and result is not None and max(result.chance_fast, result.chance_slow) >= LEANS_AT
    site = Site(
        _side(zone, percent), counts, read=True, by_list=by is not None, held=_held(judged),
        borne_out=_borne_out(judged, causes), by_constant=judged.by_constant, leans=leans,
    )  # fmt: skip
    readings = SiteReadings(
        percent=percent,
        expanded=expanded,
        load=by,
        sentences=(*(o.text for o in known.observations if o.text), *branch_found(judged)),
        dangers=judged.dangers,
    )
    return _by_the_utility(known.told, site, readings)


def _by_the_utility(told: meter.Observation | None, site: Site, readings: SiteReadings) -> tuple[Site, SiteReadings]:
    """Let the utility's own test stand for any run: inside it clears the meter, outside it is a fact of the records."""
    if told is None:
        return site, readings
    site = replace(site, run="inside" if told.zone == "inside" else "", by_list=False, held="", leans=False)
    percent, expanded = 100.0 * told.value, 196.0 * told.standard_uncertainty
    return site, replace(readings, percent=percent, expanded=expanded, load=None)


def _held(judged: meter.FieldTestResult) -> str:
    """Side of a set of runs that is clear and yet held back by a doubt of what was written down."""
    result = judged.registration
    if result is None or not judged.doubtful or result.scatter:
        return ""
    return "fast" if result.chance_fast >= SURE_SIDE else "slow" if result.chance_slow >= SURE_SIDE else ""


ALIKE = (0.5, 2.0)
"""What runs that were held back show of an error, as a part of what the bills say, between which both may be of one
(our choice: a refrigerator that cycles makes a few percent, a figure written down wrong many times as much)."""


def _borne_out(judged: meter.FieldTestResult, causes: Sequence[Cause]) -> bool:
    """Whether the runs and the bills may speak of one error of the meter now on the wall."""
    meters = [cause for cause in causes if cause.code in OWN_METER]
    likeliest = max(meters, key=lambda cause: cause.probability, default=None)
    if judged.registration is None or likeliest is None or not likeliest.size:
        return True
    return ALIKE[0] <= (judged.registration.percent - 100.0) / likeliest.size <= ALIKE[1]


def _side(zone: str, percent: float | None) -> str:
    """Zone of a run, told by its side where it is outside."""
    if zone != "outside" or percent is None:
        return zone
    return "fast" if percent > 100.0 else "slow"


def _money_sentence(account: money.Money | None, voice: Voice) -> str:
    return bridge_sentence(account.bridge, voice) if account is not None and account.bridge is not None else ""


def _account(
    known: Certain, made: Weighed, rows: Sequence[Period], causes: Sequence[Cause], costs: Costs
) -> money.Money | None:
    """What is at issue in money; None with a sign of danger."""
    if known.house.dangers:
        return None
    facts, test = made.facts, known.test
    account = money.account(known.house, facts, _weather_kwh(made.weighing), _excess(rows))
    if account is None:
        return None
    account = account.disputing(facts, _disputed(causes, costs))
    account = account.supposing(facts, supposed_registration(causes, costs))
    if known.told is not None:
        outside = known.told.zone == "outside"
        return account.refunding(facts, 100.0 * known.told.value) if outside else account
    if test is not None and test.verdict == "outside" and test.registration is not None:
        account = account.refunding(facts, test.registration.percent)
    return account


def _disputed(causes: Sequence[Cause], costs: Costs) -> list[money.Suspicion]:
    """Causes likely enough to be argued about, with the limits of their size as factors."""
    return [
        money.Suspicion(
            cause.code,
            cause.probability,
            cause.pattern_kwh,
            cause.size_low / cause.size,
            cause.size_high / cause.size,
        )
        for cause in causes
        if cause.probability >= costs.look_at
        and cause.code not in OF_THE_LIST
        and cause.size
        and cause.size_low is not None
        and cause.size_high is not None
    ]


def _excess(rows: Sequence[Period]) -> Floats:
    """Excess of the bills that the answer calls over or under, as the table has it; 0 for the others [kWh]."""
    return np.array([row.excess_kwh or 0.0 if row.flag in ("over", "under") else 0.0 for row in rows])


def _weather_kwh(weighing: Weighing | None) -> Floats | None:
    if weighing is None or not weighing.model.weathered:
        return None
    return weighing.shape.heating + weighing.shape.cooling


def _off_list(weighing: Weighing, odds: Chances | None) -> bool:
    """Whether all the bills together stand further off the list than its stated limits allow."""
    return odds is not None and not weighing.model.bare and abs(odds.level_score) > OFF_LEVEL


def _notices(
    house: House,
    model: Model,
    vague: bool,
    doubted: tuple[bool, float | None],
    voice: Voice,
    found: interval.IntervalResult | None,
) -> tuple[str, ...]:
    said: list[str] = list(house.notices)
    known, days = known_days(house)
    if not model.weathered and not known:
        said.append(NOTICES["no-weather"])
    elif known < days:
        code = "weather-gap" if model.weathered else "few-weather"
        said.append(voice.fill(NOTICES[code], {"known": known, "days": days}))
    if model.unread_kwh.any():
        said.append(NOTICES["net-only"])
    if model.bare:
        said.append(NOTICES["no-loads"])
    if found is not None:
        said += _days_said(found, voice)
    if noted := noted_absences(house):
        spans = listed([voice.fill("{days:span}", {"days": span}) for span in noted])
        said.append(voice.fill(NOTICES["noted-empty"], {"spans": spans}))
    if vague:
        said.append(voice.fill(NOTICES["vague-list"], {"loads": listed(vaguest(house, model))}))
    off, scale = doubted
    if off:
        said.append(NOTICES["off-list"])
    elif scale is not None and scale >= TOLD_TIMES and model.weathered:
        said.append(voice.fill(NOTICES["scatter"], {"times": scale}))
    return tuple(said)


def _days_said(found: interval.IntervalResult, voice: Voice) -> list[str]:
    """What the days show of people, and of heating or cooling that grew by more than is weighed."""
    said = []
    if found.daily is not None and any(one.kind == "away" for one in found.evidence):
        for code, held in (("empty", found.daily.empty), ("guests", found.daily.guests)):
            spans = listed([voice.fill("{days:span}", {"days": span}) for span in held])
            said += [voice.fill(NOTICES[code], {"spans": spans})] if held else []
    for side in found.degrees:
        spell = side.spell
        if spell is not None and spell.sure and spell.end is None and spell.size > LARGE_MEAN + 2.0 * LARGE_SD:
            figures = {"since": as_day(spell.begin), "times": 1.0 + spell.size}
            said.append(voice.fill(NOTICES[f"{side.side}-new"], figures))
    return said

"""Judge a field test: every run's registration with its doubt, what counted with the main off, and the verdict.

There is one result for a test: all usable runs together, shared errors kept shared. Its zone is the verdict, and no
run says more than it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from reconcile.house import House, Meter
from reconcile.house.registers import current_meter
from reconcile.house.site import FieldTest, Run
from reconcile.meter.after import next_steps
from reconcile.meter.branches import circuit_found
from reconcile.meter.combine import Combined, combine, mean_of
from reconcile.meter.forms import AVERAGES, averages, load_point
from reconcile.meter.instruments import misused, taken
from reconcile.meter.judged import Average, FieldTestResult, JudgedQuiet, JudgedRun, Registration, Remark, Zone
from reconcile.meter.legs import angle_factor
from reconcile.meter.load_run import Weighed, line_volts_of, service_of, weigh_run
from reconcile.meter.main_off import beside_quiet, judge_main_off, judge_quiet, zone_of
from reconcile.meter.montecarlo import agrees
from reconcile.meter.plausible import Gate, Sorted, gate, sort_runs
from reconcile.meter.registered import as_read, as_shown
from reconcile.meter.remarks import remarks, sag_remarks
from reconcile.meter.signs import dangers_of
from reconcile.meter.zone import STATED_RISK, decide
from reconcile.records import dataclass
from reconcile.say import Voice
from reconcile.voices import voice_of

__all__ = ["FieldTestResult", "judge_test"]


def judge_test(house_or_result: Any, field_test: FieldTest | None = None) -> FieldTestResult:
    """Judge the readings taken on site.

    Parameters
    ----------
    house_or_result : House or Reconciliation
        Anything with a ``house`` will do.
    field_test : FieldTest, optional
        In place of the house's own.

    Returns
    -------
    FieldTestResult
        ``not-judged`` where there is nothing to judge.

    Examples
    --------
    >>> judge_test(House("a", ())).verdict
    'not-judged'
    """
    house: House = getattr(house_or_result, "house", house_or_result)
    test = as_shown(field_test or house.field_test or FieldTest())
    meter = as_read(current_meter(house), test)
    done = tuple(map(_named, names_of(test.runs), (weigh_run(run, house, test, meter) for run in test.runs)))
    those = sort_runs([w for w in done if isinstance(w, Weighed)], house, meter, test)
    good = those.kept
    together = combine(good) if good else None
    found = gate(those, together, house, meter, test)
    registration = None if together is None else _registration(together, found, len(good), meter)
    quiet = tuple(judge_quiet(reading, house, meter, test) for reading in test.quiet)
    main_off = tuple(beside_quiet(judge_main_off(one, house, meter, test), quiet) for one in test.main_off)
    whole = Whole(house, test, meter, registration, found, those, quiet)
    runs = tuple(_judge(group, whole) for group in _groups(test.runs, done, those))
    dangers = dangers_of(house, test)
    still = zone_of(main_off)
    verdict = _verdict(bool(dangers), registration, still, bool(test.runs))
    base = [q for q in quiet if q.watts is not None]
    surest = min(base, key=lambda q: q.expanded_watts or math.inf, default=None)
    return FieldTestResult(
        house=house.name,
        voice=voice_of(house),
        meter_number=meter.number,
        form=meter.form,
        tolerance_percent=meter.tolerance_percent,
        stated_risk=STATED_RISK,
        verdict=verdict,
        registration=registration,
        runs=runs,
        main_off=main_off,
        quiet=quiet,
        averages=_averages(good, found, house, meter),
        main_off_zone=still,
        quiet_watts=None if surest is None else surest.watts,
        doubts=found.doubts,
        guesses=found.guesses,
        settle=found.settle,
        assumed=found.assumed,
        branches=test.branches,
        circuit=circuit_found(test.branches),
        dangers=dangers,
        steps=next_steps(verdict, main_off, found, together, registration, good, house, test),
        used=_instruments(test, good),
        unfit=misused(test),
    )


@dataclass(frozen=True, slots=True)
class Whole:
    """What all runs of a test share."""

    house: House
    test: FieldTest
    meter: Meter
    registration: Registration | None
    gate: Gate
    those: Sorted
    quiet: tuple[JudgedQuiet, ...] = ()


def names_of(runs: Sequence[Run]) -> tuple[str, ...]:
    """Return what each run is called: its label, numbered where several carry one.

    Examples
    --------
    >>> from reconcile.house.site import Registered
    >>> names_of((Run("heater", Registered()), Run("heater", Registered()), Run("", Registered())))
    ('heater, run 1', 'heater, run 2', 'run 3')
    """
    labels = [run.label or f"run {number}" for number, run in enumerate(runs, start=1)]
    return tuple(
        f"{label}, run {number}" if labels.count(label) > 1 else label for number, label in enumerate(labels, start=1)
    )


def _named(name: str, done: Weighed | str) -> Weighed | str:
    return replace(done, name=name) if isinstance(done, Weighed) else done


def _registration(together: Combined, found: Gate, count: int, meter: Meter) -> Registration:
    decision = together.decided(meter.tolerance_percent)
    inside = together.drawn.chance_within(decision.low, decision.high)
    fast = together.drawn.chance_within(decision.high, math.inf)
    zone: Zone = "cannot-tell" if found.doubts else decision.zone
    return Registration(
        percent=together.percent,
        standard_percent=together.standard_percent,
        expanded_percent=together.expanded,
        low_percent=together.low,
        high_percent=together.high,
        coverage_factor=together.expanded / (together.standard_percent or 1.0),
        degrees_of_freedom=together.budget.degrees_of_freedom,
        zone=zone,
        sense="fast" if together.low > 100.0 else "slow" if together.high < 100.0 else "right",
        runs=count,
        chance_fast=fast,
        chance_slow=max(1.0 - inside - fast, 0.0),
        scatter=together.scatter,
    )


def _verdict(danger: bool, registration: Registration | None, still: Zone | None, tried: bool) -> str:
    if danger:
        return "urgent"
    if registration is not None and registration.zone == "outside":
        return "outside"
    if still == "outside":
        return "counts-with-main-off"
    if registration is not None:
        return registration.zone
    if tried:
        return "cannot-tell"
    return "not-judged" if still is None else still


Done = tuple[str, Run, Weighed | str]
"""Name of a run, the run, and what became of it."""


def _groups(runs: Sequence[Run], done: Sequence[Weighed | str], those: Sorted) -> list[list[Done]]:
    """Runs of one label, service and load are repeats of one test; a run that was set aside stands by itself."""
    aside = (*those.disturbed, *([] if those.odd is None else [those.odd]))
    groups: dict[object, list[Done]] = {}
    for number, (name, run, weighed) in enumerate(zip(names_of(runs), runs, done, strict=True), start=1):
        label = run.label or f"run {number}"
        apart = any(weighed is one for one in aside)
        key = number if apart else (label, run.service, run.load, bool(run.legs))
        groups.setdefault(key, []).append((name if apart else label, run, weighed))
    return list(groups.values())


def _judge(group: Sequence[Done], whole: Whole) -> JudgedRun:
    house, meter, (label, first, _) = whole.house, whole.meter, group[0]
    done = [weighed for _, _, weighed in group]
    service = service_of(first, house)
    voice = voice_of(house)
    good = [w for w in done if isinstance(w, Weighed)]
    faults = tuple(Remark(why) for why in dict.fromkeys(why for why in done if isinstance(why, str)))
    faults += tuple(remark for _, run, _ in group for remark in sag_remarks(run))
    if not good:
        return _unjudged(label, service, first, len(group), faults, voice)
    found = combine(good)
    ok = agrees(found.budget, found.drawn)
    decision = found.decided(meter.tolerance_percent)
    half = found.budget.expanded_uncertainty
    notes = [*faults, *remarks(good[0], service, meter, whole.test), *_beside_quiet(good, whole.quiet)]
    if len(good) > 1:
        notes.append(Remark("repeats", {"count": len(good), "scatter": found.scatter}))
    if not ok:
        low, high = found.percent - half, found.percent + half
        notes.append(Remark("draws-used", {"low": low, "high": high, "drawn_low": found.low, "drawn_high": found.high}))
    zone, held = _held_to_the_test(decision.zone, good[0], whole)
    load, indicative, why = _point(first, good[0], house, meter)
    notes += (*held, *why)
    return JudgedRun(
        label=label,
        kind=good[0].kind,
        service=service,
        load=load,
        indicative=indicative,
        repeats=len(good),
        measured_w=_mean([w.measured_w for w in good]),
        expected_w=_mean([w.expected_w for w in good]),
        meter_w=_mean([w.meter_w for w in good]),
        as_read_percent=100.0 * _mean([w.meter_w / w.measured_w for w in good]),
        registration_percent=found.percent,
        standard_percent=found.standard_percent,
        expanded_percent=found.expanded,
        coverage_factor=found.expanded / (found.standard_percent or 1.0),
        degrees_of_freedom=found.budget.degrees_of_freedom,
        low_percent=found.low,
        high_percent=found.high,
        budget_expanded_percent=half,
        monte_carlo_low_percent=found.drawn.low,
        monte_carlo_high_percent=found.drawn.high,
        interval="budget" if ok else "monte carlo",
        test_uncertainty_ratio=decision.test_uncertainty_ratio,
        chance_outside=1.0 - found.drawn.chance_within(decision.low, decision.high),
        zone=zone,
        statement=decision.statement,
        remarks=tuple({(n.code, repr(n.figures)): n for n in notes}.values()),
        leg_watts=good[0].legs.watts if good[0].legs is not None else (),
        day=first.day,
        budget=found.budget.components,
        voice=voice,
    )


def _held_to_the_test(zone: Zone, run: Weighed, whole: Whole) -> tuple[Zone, list[Remark]]:
    """Zone of a run, which says no more than the whole test does, and what is to be said of that."""
    if run is whole.those.odd:
        return "cannot-tell", [Remark("set-aside-odd")]
    if any(run is one for one in whole.those.disturbed):
        return "cannot-tell", [Remark("set-aside-disturbed")]
    if whole.registration is None or whole.registration.zone == zone:
        return zone, []
    told = zone != "cannot-tell" and not whole.gate.doubts
    return "cannot-tell", [Remark("held-to-the-test")] if told else []


AS_QUIET = 0.1
"""Part by which a run's background may differ from a quiet reading to be taken for the same loads (common practice)."""


def _beside_quiet(good: Sequence[Weighed], quiet: Sequence[JudgedQuiet]) -> list[Remark]:
    """Tell where a run's background is that of a quiet reading with loads on that start by themselves."""
    ends = [b for w in good for b in (w.run.background_w_before, w.run.background_w_after) if b is not None]
    noted = any("off" in w.run.note.casefold() for w in good)
    for reading in quiet:
        if noted or not ends or not reading.watts or not reading.cycling:
            continue
        mean = _mean(ends)
        if abs(mean - reading.watts) <= AS_QUIET * reading.watts:
            return [Remark("background-as-quiet", {"watts": mean, "cycling": reading.cycling})]
    return []


def _unjudged(label: str, service: str, run: Run, count: int, faults: tuple[Remark, ...], voice: Voice) -> JudgedRun:
    return JudgedRun(
        label=label,
        service=service,
        load=run.load or "other",
        indicative=True,
        repeats=count,
        interval="none",
        zone="cannot-tell",
        remarks=faults,
        day=run.day,
        voice=voice,
    )


def _point(run: Run, weighed: Weighed, house: House, meter: Meter) -> tuple[str, bool, list[Remark]]:
    """Load point of a run by the meter's test amps, whether it is only indicative, and why."""
    if meter.test_amps is None:
        return run.load or "other", True, [Remark("no-test-amps")] if run.load else []
    service = service_of(run, house)
    line = line_volts_of(house, service)
    root = math.sqrt(3.0) if service == "three-phase" else 1.0
    readings = weighed.legs.readings if weighed.legs is not None else ()
    apparent = angle_factor(run, service) * sum(r.volts * r.amps for r in readings)
    power_factor = weighed.measured_w / apparent if apparent else 1.0
    amps = weighed.measured_w / (line * root * power_factor)
    point = load_point(amps, power_factor, meter.test_amps)
    if run.load is not None and run.load != point and {run.load, point} != {"full", "power-factor"}:
        figures = {
            "amps": amps,
            "percent": 100.0 * amps / meter.test_amps,
            "test_amps": meter.test_amps,
            "load": run.load,
        }
        return run.load, True, [Remark("not-its-load", figures)]
    return point, point == "other", []


def _averages(good: Sequence[Weighed], found: Gate, house: House, meter: Meter) -> tuple[Average, ...]:
    groups: dict[str, list[Weighed]] = {}
    indicative: dict[str, bool] = {}
    for weighed in good:
        point, only, _ = _point(weighed.run, weighed, house, meter)
        groups.setdefault(point, []).append(weighed)
        indicative[point] = indicative.get(point, False) or only
    if not groups:
        return ()
    best = "full" if "full" in groups else max(groups, key=lambda p: groups[p][0].measured_w)
    groups["representative"], indicative["representative"] = groups[best], indicative[best] or best != "full"
    means = {point: mean_of(some) for point, some in groups.items()}
    percents = {p: sum(w * r.percent for w, r in zip(means[p].weights, groups[p], strict=True)) for p in groups}
    made = []
    for method, percent in averages(percents).items():
        formula, weights = AVERAGES[method]
        total = sum(weights.values())
        together: dict[str, float] = {}
        own = 0.0
        for point, weight in weights.items():
            own += (weight / total) ** 2 * means[point].own
            for key, (part, _) in means[point].shared.items():
                together[key] = together.get(key, 0.0) + weight / total * part
        whole = combine([run for point in weights for run in groups[point]])
        expanded = (whole.expanded / (whole.standard_percent or 1.0)) * math.sqrt(
            own + sum(part * part for part in together.values())
        )
        zone: Zone = "cannot-tell" if found.doubts else decide(percent, expanded, meter.tolerance_percent).zone
        made.append(Average(method, formula, percent, expanded, zone, any(indicative[p] for p in weights)))
    return tuple(made)


def _instruments(test: FieldTest, good: Sequence[Weighed]) -> tuple[Remark, ...]:
    wanted = (("volts", "clamps"), ("amps", "clamps"), ("watts", "plug-in"))
    said = []
    for quantity in (q for q, kind in wanted if any(w.kind == kind for w in good)):
        instrument, assumed = taken(test.instruments, quantity)
        figures = {
            "quantity": quantity,
            "name": instrument.name,
            "percent": instrument.percent_of_reading,
            "digits": instrument.digits,
            "resolution": instrument.resolution,
            "assumed": assumed,
        }
        said.append(Remark("instrument", figures))
    return tuple(said)


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)

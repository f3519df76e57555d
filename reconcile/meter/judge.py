"""Judge a field test: every run's registration with its doubt, what counted with the main off, and the verdict."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from reconcile.house import House, Meter
from reconcile.meter.budget import Input, propagate
from reconcile.meter.field_verdict import next_steps, spoken_verdict
from reconcile.meter.forms import AVERAGES, averages, load_point
from reconcile.meter.instruments import category_warnings, taken
from reconcile.meter.judged import Average, FieldTestResult, JudgedMainOff, JudgedRun
from reconcile.meter.legs import angle_factor
from reconcile.meter.load_run import SHARED, Weighed, current_meter, line_volts_of, service_of, weigh_run
from reconcile.meter.main_off import judge_main_off, judge_quiet
from reconcile.meter.montecarlo import agrees, coverage_interval, simulate
from reconcile.meter.remarks import loose_neutral, remarks
from reconcile.meter.site_readings import combined
from reconcile.meter.zone import STATED_RISK, Decision, decide
from reconcile.site import FieldTest, Run
from reconcile.texts import safety

__all__ = ["FieldTestResult", "judge_test", "repeated_runs"]


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
    test = field_test or house.field_test or FieldTest()
    meter = current_meter(house)
    groups = _groups(test.runs)
    weighed = [[weigh_run(run, house, test, meter) for run in group] for group in groups]
    runs = tuple(_judge(group, done, house, meter, test) for group, done in zip(groups, weighed, strict=True))
    main_off = tuple(judge_main_off(reading, house, meter, test) for reading in test.main_off)
    quiet = tuple(judge_quiet(reading, house, meter, test) for reading in test.quiet)
    good = [w for group in weighed for w in group if isinstance(w, Weighed)]
    stops = _stops(house, test, good, main_off)
    found = _averages(good, runs, house, meter)
    verdict = _verdict(stops, runs, main_off, good, meter)
    result = FieldTestResult(
        house.name,
        house.currency,
        meter.number,
        meter.form,
        meter.tolerance_percent,
        STATED_RISK,
        runs,
        main_off,
        quiet,
        found,
        verdict,
        "",
        (),
        (),
        stops,
        _instruments(test, good),
    )
    headline, reasons = spoken_verdict(result, house)
    steps = next_steps(result, house, category_warnings(test.instruments) if any(r.legs for r in test.runs) else ())
    return replace(result, headline=headline, reasons=reasons, next_steps=steps)


def _groups(runs: Sequence[Run]) -> list[list[Run]]:
    """Runs of one label, service and load are repeats of one test."""
    groups: dict[tuple[str, str | None, str | None, bool], list[Run]] = {}
    for number, run in enumerate(runs):
        label = run.label or f"run {number + 1}"
        groups.setdefault((label, run.service, run.load, bool(run.legs)), []).append(run)
    return list(groups.values())


def _judge(
    group: Sequence[Run], done: Sequence[Weighed | str], house: House, meter: Meter, test: FieldTest
) -> JudgedRun:
    first, service = group[0], service_of(group[0], house)
    label = first.label or "run"
    good = [w for w in done if isinstance(w, Weighed)]
    faults = tuple(dict.fromkeys(why for why in done if isinstance(why, str)))
    if not good:
        return _unjudged(label, service, first, len(group), faults)
    weighed = good[0] if len(good) == 1 else repeated_runs(good)
    drawn = simulate(weighed.model, weighed.inputs)
    budget, ok = weighed.budget, agrees(weighed.budget, drawn)
    low, high, expanded = coverage_interval(budget, drawn)
    decision = decide(weighed.percent, expanded, meter.tolerance_percent, interval=(low, high))
    notes = [*faults, *remarks(good[0], service, meter, test)]
    if len(good) > 1:
        notes.append(f"{len(good)} repeats, judged together.")
    if not ok:
        notes.append(
            f"The budget alone gives {weighed.percent - budget.expanded_uncertainty:.2f} to "
            f"{weighed.percent + budget.expanded_uncertainty:.2f} %; the Monte Carlo, which takes the distributions as "
            f"they are, {drawn.low:.2f} to {drawn.high:.2f} %, and is used."
        )
    decision = _held_back(decision, good, notes)
    load, indicative, why = _point(first, weighed, house, meter)
    notes += why
    return JudgedRun(
        label=label,
        kind=weighed.kind,
        service=service,
        load=load,
        indicative=indicative,
        repeats=len(good),
        measured_w=_mean([w.measured_w for w in good]),
        expected_w=_mean([w.expected_w for w in good]),
        meter_w=_mean([w.meter_w for w in good]),
        as_read_percent=100.0 * _mean([w.meter_w / w.measured_w for w in good]),
        registration_percent=weighed.percent,
        standard_percent=drawn.standard_uncertainty if not ok else budget.standard_uncertainty,
        expanded_percent=expanded,
        coverage_factor=expanded / (budget.standard_uncertainty or 1.0),
        degrees_of_freedom=budget.degrees_of_freedom,
        low_percent=low,
        high_percent=high,
        budget_expanded_percent=budget.expanded_uncertainty,
        monte_carlo_low_percent=drawn.low,
        monte_carlo_high_percent=drawn.high,
        interval="budget" if ok else "monte carlo",
        test_uncertainty_ratio=decision.test_uncertainty_ratio,
        chance_outside=1.0 - drawn.chance_within(decision.low, decision.high),
        zone=decision.zone,
        statement=decision.statement,
        notes=tuple(dict.fromkeys(notes)),
        leg_watts=good[0].legs.watts if good[0].legs is not None else (),
        day=first.day,
        budget=budget.components,
    )


def _held_back(decision: Decision, good: Sequence[Weighed], notes: list[str]) -> Decision:
    """A reading outside what an instrument promises cannot carry a verdict, whatever its number."""
    for weighed in good:
        if weighed.legs is not None and any(r.below_range for r in weighed.legs.readings):
            notes.append("Below the clamp's range no verdict is given.")
            return replace(decision, zone="cannot-tell")
    return decision


def repeated_runs(good: Sequence[Weighed]) -> Weighed:
    """Return several runs of one test as one: their mean, with their scatter as a component.

    Four and more are evaluated by their standard deviation (Type A, n - 1 degrees of freedom); for two or three half
    their range is taken as a limit, since so few tell little of a deviation (common practice).
    """
    percents = [w.percent for w in good]
    mean, count = _mean(percents), len(percents)
    base = good[0]
    if count >= 4:
        spread = math.sqrt(sum((p - mean) ** 2 for p in percents) / (count - 1))
        scatter = Input("scatter of repeats", 0.0, spread / math.sqrt(count), "normal", 1.0, count - 1, "%")
    else:
        half = (max(percents) - min(percents)) / 2.0
        scatter = Input("scatter of repeats", 0.0, half, "rectangular", unit="%")
    # Repeats show how the supply wanders between readings, so that is not counted twice.
    inputs = [replace(q, limit=0.0) if q.name == "readings not together" else q for q in base.inputs]
    inputs.append(scatter)
    ratio = mean / base.percent

    def model(q: Any) -> Any:
        return ratio * base.model(q) + q["scatter of repeats"]

    return replace(base, budget=propagate(model, inputs), inputs=tuple(inputs), model=model)


def _unjudged(label: str, service: str, run: Run, count: int, faults: tuple[str, ...]) -> JudgedRun:
    nothing: dict[str, Any] = dict.fromkeys(
        (
            "measured_w",
            "expected_w",
            "meter_w",
            "as_read_percent",
            "registration_percent",
            "standard_percent",
            "expanded_percent",
            "coverage_factor",
            "degrees_of_freedom",
            "low_percent",
            "high_percent",
            "budget_expanded_percent",
            "monte_carlo_low_percent",
            "monte_carlo_high_percent",
            "test_uncertainty_ratio",
            "chance_outside",
            "statement",
        )
    )
    return JudgedRun(
        label=label,
        kind=None,
        service=service,
        load=run.load or "other",
        indicative=True,
        repeats=count,
        interval="none",
        zone="cannot-tell",
        notes=faults,
        day=run.day,
        **nothing,
    )


def _point(run: Run, weighed: Weighed, house: House, meter: Meter) -> tuple[str, bool, list[str]]:
    """Load point of a run by the meter's test amps, whether it is only indicative, and why."""
    if meter.test_amps is None:
        said = "The meter's test amps are not written down (test_amps), so this load point is only indicative."
        return run.load or "other", True, [said] if run.load else []
    service = service_of(run, house)
    line = line_volts_of(house, service)
    root = math.sqrt(3.0) if service == "three-phase" else 1.0
    readings = weighed.legs.readings if weighed.legs is not None else ()
    apparent = angle_factor(run, service) * sum(r.volts * r.amps for r in readings)
    power_factor = weighed.measured_w / apparent if apparent else 1.0
    amps = weighed.measured_w / (line * root * power_factor)
    point = load_point(amps, power_factor, meter.test_amps)
    if run.load is not None and run.load != point and {run.load, point} != {"full", "power-factor"}:
        why = (
            f"About {amps:.1f} A is {100.0 * amps / meter.test_amps:.0f} % of the meter's {meter.test_amps:g} test "
            f"amps, not its {run.load} load: indicative only."
        )
        return run.load, True, [why]
    return point, point == "other", []


def _averages(good: Sequence[Weighed], runs: Sequence[JudgedRun], house: House, meter: Meter) -> tuple[Average, ...]:
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
    means = {point: combined(some)[0] for point, some in groups.items()}
    factor = max((r.coverage_factor or 0.0 for r in runs if r.zone is not None), default=1.96)
    made = []
    for method, percent in averages(means).items():
        formula, weights = AVERAGES[method]
        total = sum(weights.values())
        shared = sum(g / total * _shared(groups[p]) for p, g in weights.items())
        own = math.sqrt(sum((g / total * _own(groups[p])) ** 2 for p, g in weights.items()))
        expanded = factor * math.hypot(shared, own)
        zone = decide(percent, expanded, meter.tolerance_percent).zone
        made.append(Average(method, formula, percent, expanded, zone, any(indicative[p] for p in weights)))
    return tuple(made)


def _shared(some: Sequence[Weighed]) -> float:
    parts = [[c.contribution for c in w.budget.components if c.name in SHARED] for w in some]
    return _mean([math.hypot(*p) for p in parts])


def _own(some: Sequence[Weighed]) -> float:
    return math.sqrt(max(combined(some)[1] ** 2 - _shared(some) ** 2, 0.0))


def _stops(
    house: House, test: FieldTest, good: Sequence[Weighed], main_off: Sequence[JudgedMainOff]
) -> tuple[str, ...]:
    said = list(safety.dangers(house.dangers))
    said += [why for w in good if (why := loose_neutral(w)) is not None]
    for judged, reading in zip(main_off, test.main_off, strict=True):
        if judged.zone == "outside" and reading.service_underground:
            said.append(
                "The meter counts with the main off and the service comes underground: the cable may leak to the soil. "
                "Keep off that ground, stop, and call the utility's emergency line."
            )
    return tuple(dict.fromkeys(said))


def _verdict(
    stops: Sequence[str],
    runs: Sequence[JudgedRun],
    main_off: Sequence[JudgedMainOff],
    good: Sequence[Weighed],
    meter: Meter,
) -> str:
    if stops:
        return "urgent"
    zones = [run.zone for run in runs if run.registration_percent is not None]
    if "outside" in zones:
        return "outside"
    if any(m.zone == "outside" for m in main_off):
        return "counts-with-main-off"
    if zones and all(zone == "inside" for zone in zones):
        return "inside"
    if zones:
        return _together(runs, good, meter)
    if main_off or runs:
        return "inside" if main_off and not runs and all(m.zone == "inside" for m in main_off) else "cannot-tell"
    return "not-judged"


def _together(runs: Sequence[JudgedRun], good: Sequence[Weighed], meter: Meter) -> str:
    """Zone of all runs with the surest instrument taken together, each alone being too unsure."""
    if any(run.zone == "cannot-tell" and "no verdict is given" in " ".join(run.notes) for run in runs):
        return "cannot-tell"
    zones = []
    for kind in {w.kind for w in good}:
        mean, doubt = combined([w for w in good if w.kind == kind])
        factor = max(r.coverage_factor or 0.0 for r in runs if r.kind == kind)
        zones.append((doubt, decide(mean, factor * doubt, meter.tolerance_percent).zone))
    return min(zones)[1]


def _instruments(test: FieldTest, good: Sequence[Weighed]) -> tuple[tuple[str, str], ...]:
    wanted = [q for q, kind in (("volts", "clamps"), ("amps", "clamps"), ("watts", "plug-in"))]
    used = [q for q in wanted if any(w.kind == ("plug-in" if q == "watts" else "clamps") for w in good)]
    said = []
    for quantity in used:
        instrument, assumed = taken(test.instruments, quantity)
        digits = f"{instrument.digits:g} digits of {instrument.resolution:g}"
        limits = f"{instrument.percent_of_reading:g} % of reading + {digits}"
        said.append((quantity, f"{instrument.name}: {limits}" + (" (taken as typical)" if assumed else "")))
    return tuple(said)


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)

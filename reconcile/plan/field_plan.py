"""The plan of a field test: what to do first with every cover closed, and whether the test can answer at all."""

from __future__ import annotations

import math
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any

from reconcile.decide.timer import timer_of
from reconcile.house import House, Meter
from reconcile.house.registers import current_meter
from reconcile.house.site import Instrument, Instruments
from reconcile.meter import dangers_of
from reconcile.meter.instruments import Unfit, category, unfit
from reconcile.meter.reference_load import Candidate, candidates, panel_reference, plug_in_reference
from reconcile.meter.resolve import (
    Resolution,
    clamp_resolution,
    plug_in_resolution,
    plug_limit_watts,
    register_resolution,
    utility_resolution,
)
from reconcile.plan.field_steps import PlanStep, plan_steps
from reconcile.plan.night_run import planned, run_told
from reconcile.records import dataclass
from reconcile.result import plain
from reconcile.say import Voice
from reconcile.show import shown
from reconcile.texts import safety
from reconcile.texts.categories import category_warnings
from reconcile.texts.field import field_plan_words as texts
from reconcile.texts.field.field_plan_words import Line, Who
from reconcile.texts.safety import Codes, Reader
from reconcile.voices import voice_of

if TYPE_CHECKING:
    import pandas as pd

    from reconcile.interval.planned_run import RunPlan

METER_CAUSES = ("meter-step", "meter-always", "old-meter-slow", "meter-low")
CONSTANT_CAUSES, TIMED_CAUSES = ("constant-load",), ("constant-load", "timed-load")
LIKELY_ENOUGH = 0.1
"""A cause below this chance gives the plan no size to look for."""
FIT = Instrument(category="CAT IV 1000 V")


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """A field test, planned."""

    house: House
    stop: tuple[str, ...]
    """Where a danger was reported, or found by the field test so far: what to do instead; there are no steps."""
    answer: Line
    """Whether a test can answer."""
    suspected_percent: float | None
    suspected_watts: float | None
    """Both: size that the test should tell."""
    tolerance_percent: float
    steps: tuple[PlanStep, ...] = ()
    """In order of hazard."""
    resolutions: tuple[Resolution, ...] = ()
    """What each test could tell."""
    loads: tuple[Candidate, ...] = ()
    """Listed loads as references, the best first."""
    reference: Candidate | None = None
    """Load of the plug-in run."""
    panel_load: Candidate | None = None
    """Load for readings by a qualified person."""
    remarks: tuple[Line, ...] = ()
    """What is not known, and matters."""
    likeliest: Line | None = None
    """What the bills point to first, and next."""
    unfit: tuple[Unfit, ...] = ()
    """Instruments at hand that must not be used behind a cover."""
    wanted_percent: float | None = None
    """Expanded uncertainty that the test should reach [%]."""
    night_run: RunPlan | None = None
    """A run that the house's own interval data would read by themselves."""

    @property
    def falls_short(self) -> frozenset[str]:
        """Tests that do not reach the uncertainty that is wanted."""
        wanted = self.wanted_percent or math.inf
        return frozenset(told.test for told in self.resolutions if told.expanded_percent > wanted)

    @property
    def urgent(self) -> bool:
        """Whether a danger ends the test before it begins."""
        return bool(self.stop)

    @property
    def has_panel_work(self) -> bool:
        """Whether readings at the legs could be planned: the kind of service must be known."""
        return any(step.who is Who.QUALIFIED for step in self.steps)

    @property
    def meter(self) -> Meter:
        """The meter on the wall."""
        return current_meter(self.house)

    @property
    def voice(self) -> Voice:
        """How the house is spoken to."""
        return voice_of(self.house)

    @property
    def headline(self) -> str:
        """What the bills point to first, and whether a test can answer."""
        said = () if self.likeliest is None or self.urgent else (self.likeliest,)
        return " ".join(texts.lines((*said, self.answer), self.voice))

    @property
    def by_night(self) -> str:
        """What to do on the nights of a run that interval data read; empty where none is planned."""
        return "" if self.night_run is None else run_told(self.night_run, self.voice)

    @property
    def notes(self) -> tuple[str, ...]:
        """What is not known and matters, as sentences."""
        return texts.lines(self.remarks, self.voice)

    @property
    def warnings(self) -> tuple[str, ...]:
        """The same as sentences."""
        return category_warnings(self.unfit)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What stands before everything."""
        return self.stop or safety.said(safety.first_of_all(self.house))

    def page(self, reader: Reader) -> tuple[tuple[Codes, PlanStep | None], ...]:
        """Return what a reader's page holds: cautions that stand once, each before the first step it belongs to.

        Parameters
        ----------
        reader : Reader
            Panel work stands on the qualified person's page only, and nothing else does.

        Returns
        -------
        tuple of (codes of cautions, step)
            The first has no step: it is the head of the page.
        """
        qualified = reader is Reader.QUALIFIED
        mine = [step for step in self.steps if (step.who is Who.QUALIFIED) == qualified]
        cautions = safety.once((safety.first_of_all(self.house, reader), *(step.cautions for step in mine)))
        return tuple(zip(cautions, (None, *mine), strict=True))

    def to_dict(self) -> dict[str, Any]:
        """Return the plan as plain JSON values, its sentences said."""
        words = [texts.step_words(step, self.voice) for step in self.steps]
        made: dict[str, Any] = plain(
            {
                "house": self.house.name,
                "urgent": self.urgent,
                "headline": self.headline,
                "cautions": self.cautions,
                "suspected_percent": self.suspected_percent,
                "suspected_watts": self.suspected_watts,
                "tolerance_percent": self.tolerance_percent,
                "steps": [
                    {
                        "code": step.code,
                        "title": told.title,
                        "who": told.who,
                        "hazard": int(step.hazard),
                        "minutes": step.minutes,
                        "cautions": safety.said(step.cautions),
                        "do": told.do,
                        "expect": told.expect,
                        "proves": told.proves,
                    }
                    for step, told in zip(self.steps, words, strict=True)
                ],
                "resolutions": [asdict(told) for told in self.resolutions],
                "loads": [asdict(load) for load in self.loads],
                "notes": (*self.notes, *self.warnings),
            }
        )
        return made

    def summary(self) -> pd.DataFrame:
        """Return what each test could tell as a frame, ready to print."""
        import pandas as pd

        keep = ("load_watts", "seconds", "expanded_percent", "test_uncertainty_ratio", "smallest_error_percent")
        rows = [{"test": texts.TESTS[r.test], **{name: getattr(r, name) for name in keep}} for r in self.resolutions]
        return pd.DataFrame(rows, columns=["test", *keep])

    def text(self) -> str:
        """Return the householder's plan as plain text."""
        return shown(self, "text")

    def __repr__(self) -> str:
        return f"<Plan of {self.house.name!r}: {len(self.steps)} steps, {len(self.resolutions)} tests>"

    def _repr_html_(self) -> str:
        return shown(self, "html")


def plan_test(
    house_or_result: Any,
    instruments: Instruments | None = None,
    suspected_percent: float | None = None,
    expanded_percent: float | None = None,
) -> Plan:
    """Plan a field test that begins with every cover closed.

    Parameters
    ----------
    house_or_result : House or Reconciliation
        From a reconciliation the size to look for is that of its likeliest meter cause.
    instruments : Instruments, optional
        What is at hand; the house's own field test's, else usual ones.
    suspected_percent : float, optional
        Error of the meter to look for [%], in place of the one inferred.
    expanded_percent : float, optional
        Wanted expanded uncertainty of the registration [%]: the shortest test that reaches it is planned, whatever is
        suspected; where none does, the best.

    Returns
    -------
    Plan

    Raises
    ------
    ValueError
        Where the suspected error is not a finite number other than zero, or the wanted uncertainty not a positive one.

    Examples
    --------
    >>> plan = plan_test(House("a", (), service="split-phase"), suspected_percent=20.0)
    >>> print(plan.steps[-1].who)
    a qualified person
    >>> plan.resolutions[0].resolves
    True
    """
    if suspected_percent is not None and (not math.isfinite(suspected_percent) or suspected_percent == 0.0):
        raise ValueError("the suspected error must be a finite percentage other than zero")
    if expanded_percent is not None and not (math.isfinite(expanded_percent) and expanded_percent > 0.0):
        raise ValueError("the wanted uncertainty must be a percentage above zero")
    house: House = house_or_result if isinstance(house_or_result, House) else house_or_result.house
    own = house.field_test.instruments if house.field_test is not None else None
    instruments = instruments or own or Instruments()
    tolerance = current_meter(house).tolerance_percent
    told_percent, told_watts = suspected_of(house_or_result)
    seen = None if isinstance(house_or_result, House) else getattr(house_or_result, "interval", None)
    timer = timer_of(seen, _best(house_or_result, TIMED_CAUSES))
    suspected = suspected_percent if suspected_percent is not None else told_percent
    stop = stops(house)
    if stop:
        return Plan(house, stop, Line("stop", {}), suspected, told_watts, tolerance)
    found = candidates(house)
    reference = plug_in_reference(house, found)
    panel = panel_reference(found, plug_limit_watts(house))
    tried = (
        plug_in_resolution(house, instruments, reference.watts, suspected, expanded_percent),
        register_resolution(house, instruments, reference.watts, suspected, expanded_percent),
        clamp_resolution(house, instruments, panel.watts if panel else 4500.0, suspected, expanded_percent),
        utility_resolution(house, suspected),
    )
    resolutions = tuple(r for r in tried if r is not None)
    return Plan(
        house,
        (),
        _answer(resolutions, suspected, tolerance),
        suspected,
        told_watts,
        tolerance,
        plan_steps(house, reference, panel, resolutions, told_watts, told_percent, timer),
        resolutions,
        found,
        reference,
        panel,
        _remarks(house),
        _likeliest(house_or_result),
        _unfit(instruments),
        expanded_percent,
        planned(house),
    )


def stops(house: House) -> tuple[str, ...]:
    """Return what to do instead where a danger was reported, or shows in the readings of the field test so far."""
    return safety.dangers(dangers_of(house))


def suspected_of(result: Any) -> tuple[float | None, float | None]:
    """Return the size of the likeliest meter cause [%] and of the likeliest round-the-clock load [W] of a result."""
    sizes = [_best(result, codes) for codes in (METER_CAUSES, CONSTANT_CAUSES)]
    percent, watts = (None if best is None else float(best.size) for best in sizes)
    return percent, watts


def _best(result: Any, codes: tuple[str, ...]) -> Any:
    """The likeliest cause among some that has a size and is likely enough to look for."""
    likely = [
        c
        for c in getattr(result, "causes", ())
        if c.code in codes and c.size is not None and c.size != 0.0 and c.probability >= LIKELY_ENOUGH
    ]
    return max(likely, key=lambda c: c.probability, default=None)


def _likeliest(result: Any) -> Line | None:
    """What the bills point to first: the meter or a load, each with its chance and its size."""
    meter, load = _best(result, METER_CAUSES), _best(result, CONSTANT_CAUSES)
    if meter is None and load is None:
        return None
    figures = {
        "meter": None if meter is None else (meter.code, abs(meter.size), meter.size, meter.probability),
        "load": None if load is None else (abs(load.size), load.size, load.probability),
    }
    return Line("likeliest", figures)


def _answer(resolutions: tuple[Resolution, ...], suspected: float | None, tolerance: float) -> Line:
    by = {r.test: r for r in resolutions}
    plug, clamps = by.get("plug-in"), by.get("clamps")
    figures = {"told": plug, "size": abs(suspected or 0.0), "tolerance": tolerance}
    if suspected is None:
        return Line("begin" if plug is None else "closed", figures)
    if plug is not None and plug.resolves:
        return Line("closed-size", figures)
    return Line("legs-would" if clamps is not None and clamps.resolves else "utility-only", figures)


def _remarks(house: House) -> tuple[Line, ...]:
    meter = current_meter(house)
    found = {
        "service-unknown": house.service == "unknown",
        "demand-display": meter.display == "kW demand",
        "no-disk-constant": meter.type == "disk" and meter.disk_wh is None,
        "no-pulse-constant": meter.type == "electronic" and meter.pulse_wh is None,
        "no-test-amps": meter.test_amps is None,
        "multiplier": meter.multiplier != 1.0,
        "generation": house.generation,
    }
    return tuple(Line(key, {"multiplier": meter.multiplier}) for key, here in found.items() if here)


def _unfit(instruments: Instruments) -> tuple[Unfit, ...]:
    """Return which instruments at hand must stay out of a panel; what is not written down the sheet asks for."""
    volts, amps = (
        i if i is not None and category(i.category) is not None else FIT for i in (instruments.volts, instruments.amps)
    )
    return unfit(replace(instruments, volts=volts, amps=amps))

"""The judged field test: one frozen object in figures and codes, from which every rendering is made."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, field, fields
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Literal

from reconcile.house.site import Branch
from reconcile.meter.budget import Component
from reconcile.meter.instruments import Unfit
from reconcile.meter.zone import NEAR_PERCENT
from reconcile.records import dataclass
from reconcile.say import Voice
from reconcile.show import shown
from reconcile.texts.danger_signs import dangers
from reconcile.texts.field import field_test as words

if TYPE_CHECKING:
    import pandas as pd

Zone = Literal["inside", "outside", "cannot-tell"]
PLAIN = Voice()


@dataclass(frozen=True, slots=True)
class Remark:
    """Something told of a reading: a code of :data:`reconcile.texts.field.field_remarks.REMARKS`, and its figures."""

    code: str
    figures: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Guess:
    """A misread or keying error that would explain a registration."""

    code: str
    """What kind of error."""
    run: str
    """Label of the run."""
    field: str
    """Key of ``field_test.toml`` (or of the house's file) that would be wrong."""
    factor: float | None
    """What was written over what it would have to be."""
    as_read_percent: float
    would_be_percent: float
    """Both: registration with the value as written, and with the error mended [%]."""
    written: float | None = None
    meant: float | None = None
    """Both: the figure as it was written, and as it would have to be; None where the error is not in one figure."""


COUNTED = ("pulse_wh", "disk_wh", "pulses", "turns")


def of_a_count(doubt: Remark) -> bool:
    """Whether a doubt is of what the meter was counted by, which its register would settle."""
    if doubt.code == "explained-by":
        return doubt.figures["guess"].field in COUNTED
    return doubt.code == "constant-alone"


@dataclass(frozen=True, slots=True)
class Assumption:
    """A value that was taken, not read. ``holds_back``: whether no verdict may rest on it."""

    code: str
    run: str
    holds_back: bool
    figures: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Registration:
    """The one result of a test: registration of the meter [%], 100 being right, with its limits."""

    percent: float
    standard_percent: float
    expanded_percent: float
    low_percent: float
    high_percent: float
    coverage_factor: float
    degrees_of_freedom: float
    zone: Zone
    sense: Literal["fast", "slow", "right"]
    """Side of 100 on which both limits lie; ``right`` where they hold it."""
    runs: int
    chance_fast: float
    chance_slow: float
    """Both: chance that the truth lies above, or below, what the tolerance allows, by the readings alone, 0 to 1."""
    scatter: bool = False
    """Whether the runs scatter more than their own budgets foresee, so that their scatter is counted."""

    @property
    def agrees(self) -> bool:
        """Whether it speaks for a right meter: it holds 100, and is sure enough not to hold a clearly wrong one too."""
        return self.sense == "right" and self.expanded_percent <= NEAR_PERCENT


class Remarked:
    """What carries remarks, and a voice to tell them."""

    __slots__ = ()
    voice: Voice
    remarks: tuple[Remark, ...]

    @property
    def notes(self) -> tuple[str, ...]:
        """The remarks as sentences."""
        return words.said(self.voice, self.remarks)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class JudgedRun(Remarked):
    """One load test, judged. Runs of one label are repeats of one test and judged together.

    Powers are W; ``registration_percent`` and all its limits are percent, 100 being right. ``expected_w`` is
    what a sound meter of this form would show; ``interval`` says whether the limits are the ``budget``'s or
    the ``monte carlo``'s, where the two do not agree. A run that could not be judged has no figures.
    """

    label: str
    kind: str | None = None
    service: str
    load: str
    indicative: bool
    repeats: int
    measured_w: float | None = None
    expected_w: float | None = None
    meter_w: float | None = None
    as_read_percent: float | None = None
    registration_percent: float | None = None
    standard_percent: float | None = None
    expanded_percent: float | None = None
    coverage_factor: float | None = None
    degrees_of_freedom: float | None = None
    low_percent: float | None = None
    high_percent: float | None = None
    budget_expanded_percent: float | None = None
    monte_carlo_low_percent: float | None = None
    monte_carlo_high_percent: float | None = None
    interval: str
    test_uncertainty_ratio: float | None = None
    chance_outside: float | None = None
    zone: Zone
    statement: str | None = None
    remarks: tuple[Remark, ...]
    leg_watts: tuple[float, ...] = ()
    day: date | None = None
    budget: tuple[Component, ...] = ()
    voice: Voice = PLAIN


@dataclass(frozen=True, slots=True, eq=False)
class JudgedMainOff(Remarked):
    """One reading with the main off, judged by the one rule there is.

    ``zone``: inside is nothing counted, outside is counting. ``watts`` is the best estimate, ``low_watts`` and
    ``at_most_watts`` what the reading proves. ``cases`` name what it can mean, in the order of looking.
    """

    watts: float | None
    low_watts: float
    at_most_watts: float | None
    expanded_watts: float | None
    zone: Zone
    kwh_a_month: float | None
    cost_a_month: float | None
    remarks: tuple[Remark, ...]
    cases: tuple[str, ...] = ()
    ask_underground: bool = False
    day: date | None = None
    voice: Voice = PLAIN


@dataclass(frozen=True, slots=True, eq=False)
class JudgedQuiet(Remarked):
    """One reading with all else off: watts of what was left on.

    ``listed_watts`` is what the list gives the loads in ``on``, where it says of each; ``cycling`` are those of them
    that start and stop by themselves, so that the next quarter of an hour may show quite another figure.
    """

    watts: float | None
    at_most_watts: float | None
    expanded_watts: float | None
    kwh_a_month: float | None
    cost_a_month: float | None
    remarks: tuple[Remark, ...]
    on: tuple[str, ...] = ()
    day: date | None = None
    voice: Voice = PLAIN
    listed_watts: float | None = None
    cycling: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Average:
    """An average registration by a method of ANSI C12.1."""

    method: str
    formula: str
    percent: float
    expanded_percent: float
    zone: Zone
    indicative: bool


@dataclass(frozen=True, slots=True, eq=False)
class FieldTestResult:
    """A field test, judged.

    Attributes
    ----------
    house : str
    voice : Voice
    meter_number, form : str or None
    tolerance_percent : float
    stated_risk : float
        Most that a verdict ``inside`` or ``outside`` is wrong, 0 to 1.
    verdict : str
        ``urgent``, ``outside``, ``counts-with-main-off``, ``inside``, ``cannot-tell`` or ``not-judged``.
    registration : Registration or None
        The one result of all runs together; its zone is the verdict. None where no run could be used.
    runs, main_off, quiet, averages
        What was judged.
    main_off_zone : str or None
        Of all readings with the main off together: the only verdict on them.
    quiet_watts : float or None
        Of the surest quiet reading [W].
    doubts : tuple of Remark
        Why the runs cannot carry a verdict, whatever their number; empty where they can.
    guesses : tuple of Guess
        Which misread or keying error would explain the figure, the likeliest first.
    settle : Remark or None
        The one reading that settles it.
    assumed : tuple of Assumption
        What was taken, not read.
    branches : tuple of Branch
        Circuits that were switched off one by one, as written.
    circuit : Branch or None
        The one they name.
    dangers : tuple of str
        Signs of danger, in the house's file or in the readings themselves. Any stops every verb.
    steps : tuple of Remark
        What comes next, in order of hazard.
    used : tuple of Remark
        Instruments and their limits of error.
    unfit : tuple of Unfit
        Instruments that were used behind a cover and must not be: told before everything else.
    """

    house: str
    voice: Voice
    meter_number: str | None
    form: str | None
    tolerance_percent: float
    stated_risk: float
    verdict: str
    registration: Registration | None
    runs: tuple[JudgedRun, ...]
    main_off: tuple[JudgedMainOff, ...]
    quiet: tuple[JudgedQuiet, ...]
    averages: tuple[Average, ...]
    main_off_zone: Zone | None
    quiet_watts: float | None
    doubts: tuple[Remark, ...]
    guesses: tuple[Guess, ...]
    settle: Remark | None
    assumed: tuple[Assumption, ...]
    branches: tuple[Branch, ...]
    circuit: Branch | None
    dangers: tuple[str, ...]
    steps: tuple[Remark, ...] = ()
    used: tuple[Remark, ...] = ()
    unfit: tuple[Unfit, ...] = ()

    @property
    def doubtful(self) -> bool:
        """Whether the runs contradict each other or rest on something assumed: then they carry no verdict."""
        return bool(self.doubts)

    @property
    def by_constant(self) -> bool:
        """Whether runs that agree are held back by nothing but what their counts rest on, written once for all."""
        several = self.registration is not None and self.registration.runs > 1
        return several and bool(self.doubts) and all(map(of_a_count, self.doubts))

    @property
    def currency(self) -> str:
        """ISO 4217 code of the house's money."""
        return self.voice.currency

    @property
    def headline(self) -> str:
        """The answer in one sentence."""
        return words.headline(self)

    @property
    def reasons(self) -> tuple[str, ...]:
        """What the verdict rests on, every reason with its number."""
        return words.reasons(self)

    @property
    def next_steps(self) -> tuple[str, ...]:
        """What comes next, in order of hazard; nothing here asks to open anything."""
        return words.next_steps(self)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What stands before everything else; empty where no danger was found."""
        return (*dangers(self.dangers), *words.category_dangers(self), *words.joint_cautions(self))

    @property
    def instruments(self) -> tuple[tuple[str, str], ...]:
        """What was used for what, and its limit of error."""
        return words.instruments(self)

    def to_dict(self) -> dict[str, Any]:
        """Return the part ``field_test`` of ``result.json``: plain JSON values only."""
        made: dict[str, Any] = {f.name: getattr(self, f.name) for f in fields(self) if f.name not in HIDDEN}
        for name in ("runs", "main_off", "quiet"):
            made[name] = [_told(item) for item in made[name]]
        made["branches"] = [_branch(item) for item in self.branches]
        made["circuit"] = None if self.circuit is None else _branch(self.circuit)
        made["averages"] = [asdict(item) for item in self.averages]
        made["registration"] = None if self.registration is None else asdict(self.registration)
        made["doubtful"] = self.doubtful
        made["doubts"] = [{"code": d.code, "text": t} for d, t in zip(self.doubts, words.doubts(self), strict=True)]
        made["guesses"] = [{**asdict(g), "text": words.guess(self.voice, g)} for g in self.guesses]
        made["settle"] = None if self.settle is None else words.remark(self.voice, self.settle)
        made["assumed"] = [
            {"code": a.code, "run": a.run, "holds_back": a.holds_back, "text": words.assumption(self.voice, a)}
            for a in self.assumed
        ]
        for name in ("currency", "headline", "reasons", "next_steps", "cautions"):
            made[name] = getattr(self, name)
        made["average_registration_percent"] = {a.method: a.percent for a in self.averages}
        made["instruments"] = dict(self.instruments)
        plain: dict[str, Any] = _plain(made)
        return plain

    def summary(self) -> pd.DataFrame:
        """Return the runs as a frame, ready to print."""
        import pandas as pd

        keep = ("label", "measured_w", "meter_w", "registration_percent", "expanded_percent", "zone")
        return pd.DataFrame([{name: getattr(run, name) for name in keep} for run in self.runs], columns=keep)

    def text(self) -> str:
        """Return the answer as plain text."""
        return shown(self, "text")

    def __repr__(self) -> str:
        found = "" if self.registration is None else f", {self.registration.percent:.1f} %"
        return f"<FieldTestResult of {self.house!r}: {self.verdict}{found}, {len(self.runs)} runs>"

    def _repr_html_(self) -> str:
        return shown(self, "html")


HIDDEN = ("voice", "steps", "used", "unfit", "remarks")


def _told(item: Any) -> dict[str, Any]:
    made = {f.name: getattr(item, f.name) for f in fields(item) if f.name not in HIDDEN}
    if "budget" in made:
        made["budget"] = [asdict(component) for component in made["budget"]]
    return {**made, "notes": item.notes}


def _branch(item: Branch) -> dict[str, Any]:
    return {f.name: getattr(item, f.name) for f in fields(item) if f.name != "row"}


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value

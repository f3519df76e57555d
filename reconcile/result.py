"""The answer: one frozen object, one dictionary, from which every rendering is made."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Literal

from reconcile import __version__
from reconcile.costs import Costs
from reconcile.facts import Finding
from reconcile.frames import Frames
from reconcile.house import House
from reconcile.interval.found import IntervalResult
from reconcile.kinds import CauseCode, Decision, Flag, Hazard
from reconcile.say import Voice
from reconcile.show import shown
from reconcile.texts.findings import finding_do, finding_text

if TYPE_CHECKING:
    import pandas as pd

    from reconcile.meter.judge import FieldTestResult
    from reconcile.money.account import Money

SCHEMA = "reconcile/1"

NO_MONEY: dict[str, Any] = {"recomputed": [], "bridge": None, "disputed": {}, "refunds": [], "notes": []}
"""What is said of money where neither an amount nor a tariff is known."""


@dataclass(frozen=True, slots=True)
class Period:
    """One billing period, weighed. Energies are kWh over the whole period; None where it could not be judged."""

    start: date
    end: date
    days: int
    billed_kwh: float | None
    flag: Flag
    """Follows from ``usual_low_kwh`` and ``usual_high_kwh`` as they stand here."""
    why_not_judged: str | None
    expected_kwh: float | None
    low_kwh: float | None
    high_kwh: float | None
    usual_kwh: float | None
    usual_low_kwh: float | None
    usual_high_kwh: float | None
    excess_kwh: float | None
    excess_amount: Decimal | None
    read_type: str = "actual"
    part_of: int | None = None
    """Index of the cause whose lasting rise or fall the bill belongs to; its flag is its own all the same."""


@dataclass(frozen=True, slots=True)
class Cause:
    """An inference: a cause that may act, the chance that it does, and its size if it does."""

    code: CauseCode | Literal["none"]
    probability: float
    since: date | None
    size: float | None
    unit: str
    """``%``, ``W`` or ``kWh``."""
    text: str = ""
    size_low: float | None = None
    size_high: float | None = None
    kwh: float | None = None
    """Energy it would account for over the bills shown [kWh]."""
    pattern_kwh: tuple[float, ...] = ()
    """The same, period by period."""
    until: date | None = None
    """Day on which it ended, where it came and went; an old meter's has no known beginning."""

    @property
    def turn(self) -> date | None:
        """Day on which the bills changed by it: the one from which it acts, else the one until which."""
        return self.since if self.since is not None else self.until


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a step may show, and what follows from it."""

    outcome: str
    then: str


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do.

    Attributes
    ----------
    text : str
    hazard : Hazard
        How near it comes to live parts; steps stand in this order.
    cautions : tuple of str
        Stand before the step.
    code : str
        Of the check or the request: what the step is.
    minutes : int
        Time it takes.
    for_cause : str or None
        Code of the cause it belongs to; None where it belongs to the billing records or to the data.
    would_show : tuple of Outcome
    optional : bool
        Whether it would not change what to do, and is only a cheap way to be sure.
    worth : float
        Expected saving of the wrong acts that it would prevent, in the unit of :mod:`reconcile.costs`.
    asks : str or None
        Key of the request to the utility that it makes, which the letter makes too.
    """

    text: str
    hazard: Hazard
    cautions: tuple[str, ...] = ()
    code: str = ""
    minutes: int = 0
    for_cause: str | None = None
    would_show: tuple[Outcome, ...] = ()
    optional: bool = False
    worth: float = 0.0
    asks: str | None = None


@dataclass(frozen=True, slots=True)
class Over:
    """The bills marked high (or low: then below 0), added up as the table shows them."""

    bills: int
    kwh: float
    amount: Decimal | None


@dataclass(frozen=True, slots=True)
class Verdict:
    """The decision, what it rests on, and what to do, in order of hazard.

    Attributes
    ----------
    decision : Decision
    rule : str
        Which rule of :mod:`reconcile.decide` decided.
    headline : str
    reasons : tuple of str
    next_steps : tuple of Step
    meter_line : str
        The chance that the meter is fast, and what these bills could have shown, in one line.
    field_test_warranted : bool
    cannot_tell : bool
        Something stands out, and no cause reaches one half.
    blind : bool
        Nothing stands out, but these bills would look alike with a rise by half.
    meter_fast_probability, meter_slow_probability : float or None
        That the meter now on the wall registers more, or less, than is used; None where no bill was judged.
    meters_disagree_probability : float or None
        That the old and the new meter of an exchange disagree, whichever of the two is wrong.
    over, under : Over
    smallest_visible_meter_error_percent, smallest_visible_constant_watts : float or None
    requests : tuple of str
        Keys of what is asked of the utility: the steps that ask, and the letter, no more and no less.
    """

    decision: Decision
    rule: str
    headline: str
    reasons: tuple[str, ...]
    next_steps: tuple[Step, ...]
    meter_line: str
    field_test_warranted: bool
    cannot_tell: bool
    meter_fast_probability: float | None
    meter_slow_probability: float | None
    over: Over
    smallest_visible_meter_error_percent: float | None
    smallest_visible_constant_watts: float | None = None
    blind: bool = False
    under: Over = Over(0, 0.0, None)
    meters_disagree_probability: float | None = None

    @property
    def requests(self) -> tuple[str, ...]:
        """Keys of what the steps ask of the utility: what the letter asks, no more and no less."""
        return tuple(dict.fromkeys(step.asks for step in self.next_steps if step.asks is not None))


@dataclass(frozen=True, slots=True)
class LoadShare:
    """One load of the list (or the unlisted rest) over all periods: before and after hearing the bills."""

    load: str
    expected_kwh: float
    reconciled_kwh: float
    low_kwh: float
    high_kwh: float
    share_of_doubt: float
    """Share of the doubt about the meter that is this load's, 0 to 1."""
    effort: str = ""
    """How it would be measured: ``plug-in meter for a week`` ..."""


@dataclass(frozen=True, slots=True)
class Visible:
    """What these bills could have shown with 90 % probability, by onset (index of the first period affected)."""

    onset: tuple[int, ...]
    meter_percent: tuple[float | None, ...]
    constant_watts: tuple[float | None, ...]


NARROWS, NOTICED_PERCENT = 0.9, 50.0
"""Part of its doubt that a measurement leaves at most, and the meter error [%] it must then tell, to be worth telling
(our choice)."""


@dataclass(frozen=True, slots=True)
class Measure:
    """What to measure next: the loads in order of gain for effort and how narrow the doubt becomes after each."""

    load: str
    how: str
    doubt_percent_after: float
    """Smallest visible meter error [%] once this and all those above it are measured."""
    doubt_percent_before: float | None = None

    @property
    def helps(self) -> bool:
        """Whether it is worth telling: it narrows clearly, to a meter error that anybody would notice."""
        before = self.doubt_percent_before
        clearly = before is None or self.doubt_percent_after <= NARROWS * before
        return clearly and self.doubt_percent_after <= NOTICED_PERCENT

    """The same once only those above it are."""


@dataclass(frozen=True, slots=True, eq=False)
class Reconciliation(Frames):
    """A house's bills weighed against its loads."""

    house: House
    rows: tuple[Period, ...]
    findings: tuple[Finding, ...]
    causes: tuple[Cause, ...]
    verdict: Verdict
    loads: tuple[LoadShare, ...]
    money: Money | None
    interval: IntervalResult | None
    field_test: FieldTestResult | None
    visible: Visible | None = None
    measures: tuple[Measure, ...] = ()
    load_kwh: tuple[tuple[float, ...], ...] = ()
    """Expected kWh of each load in each period, loads in the order of ``loads``."""
    degree_days: tuple[tuple[float, ...], tuple[float, ...]] | None = None
    """Heating and cooling degree-days of each period [K d], about 18 degC, for display."""
    over_confident: bool = False
    doubt_scale: float | None = None
    notices: tuple[str, ...] = ()
    costs: Costs | None = None
    """What wrong acts were said to cost; None for the table's own."""
    odds: Mapping[str, float] = field(default_factory=dict)
    """Factors on the prior odds of causes that were given, by code."""

    @property
    def voice(self) -> Voice:
        """How this house is spoken to."""
        return Voice(self.house.locale, self.house.currency)

    def __repr__(self) -> str:
        judged = sum(row.flag != Flag.NOT_JUDGED for row in self.rows)
        told = f"{self.verdict.decision}, {judged} of {len(self.rows)} bills judged"
        return f"<Reconciliation of {self.house.name!r}: {told}>"

    def summary(self) -> pd.DataFrame:
        """Return the periods with their bands and flags, ready to print.

        Returns
        -------
        pandas.DataFrame
            One row a billing period.
        """
        frame = self.periods
        keep = [
            "start",
            "end",
            "days",
            "billed_kwh",
            "usual_kwh",
            "usual_low_kwh",
            "usual_high_kwh",
            "excess_kwh",
        ]
        return frame[[*keep, "flag"]]

    def to_dict(self) -> dict[str, Any]:
        """Return the answer in the form of ``result.json`` (schema ``reconcile/1``).

        Returns
        -------
        dict
            Plain JSON values only.
        """
        verdict = self.verdict
        voice = Voice(self.house.locale, self.house.currency)
        return {
            "schema": SCHEMA,
            "house": self.house.name,
            "currency": self.house.currency,
            "periods": [plain(asdict(row)) for row in self.rows],
            "findings": [self._finding(finding) for finding in self.findings],
            "causes": [plain(asdict(cause)) for cause in self.causes],
            "verdict": {
                "decision": str(verdict.decision),
                "rule": verdict.rule,
                "headline": verdict.headline,
                "meter_line": verdict.meter_line,
                "field_test_warranted": verdict.field_test_warranted,
                "cannot_tell": verdict.cannot_tell,
                "blind": verdict.blind,
                "meter_fast_probability": verdict.meter_fast_probability,
                "meter_slow_probability": verdict.meter_slow_probability,
                "meters_disagree_probability": verdict.meters_disagree_probability,
                "over": plain(asdict(verdict.over)),
                "under": plain(asdict(verdict.under)),
                "reasons": list(verdict.reasons),
                "next_steps": [step.text for step in verdict.next_steps],
                "steps": [plain(asdict(step)) for step in verdict.next_steps],
                "requests": list(verdict.requests),
                "smallest_visible_meter_error_percent": verdict.smallest_visible_meter_error_percent,
                "smallest_visible_constant_watts": verdict.smallest_visible_constant_watts,
            },
            "loads": [plain(asdict(load)) for load in self.loads],
            "money": NO_MONEY if self.money is None else self.money.to_dict(voice),
            "interval": None if self.interval is None else self.interval.to_dict(voice),
            "field_test": None if self.field_test is None else self.field_test.to_dict(),
            "visible": None if self.visible is None else plain(asdict(self.visible)),
            "measures": [plain(asdict(measure)) for measure in self.measures],
            "over_confident": self.over_confident,
            "doubt_scale": self.doubt_scale,
            "notices": list(self.notices),
            "costs": None if self.costs is None else plain(asdict(self.costs)),
            "odds": dict(self.odds),
            "coverage": self.house.band.coverage,
            "version": __version__,
        }

    def _finding(self, finding: Finding) -> dict[str, Any]:
        return {
            "code": finding.code,
            "periods": list(finding.periods),
            "kwh": plain(finding.kwh),
            "amount": plain(finding.amount),
            "text": finding_text(finding, self.voice),
            "do": finding_do(finding, self.voice),
            "settles": finding.settles,
            "asks": list(finding.asks),
            "case": finding.case,
            "figures": plain(dict(finding.figures)),
        }

    def _repr_html_(self) -> str:
        return shown(self, "html")


def plain(value: Any) -> Any:
    """Turn dates, money and tuples into JSON values; a number that is not finite becomes None."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value

"""What the steps are chosen from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

from reconcile.costs import Costs
from reconcile.decide.rules import Case, Rule
from reconcile.decide.told import Looked
from reconcile.facts import Finding
from reconcile.house import Event, House
from reconcile.interval.planned_run import RunPlan
from reconcile.paper.exchange import METER_WORK
from reconcile.plan.suspects import Suspects
from reconcile.plan.worth import Sizes, State
from reconcile.records import dataclass
from reconcile.result import Cause, Measure, Period
from reconcile.say import Voice

LASTING_FALLS = ("load-gone", "habit-step", "heating-fall", "cooling-fall")
"""Causes, of less use for good, of which the household knows what stopped."""


@dataclass(frozen=True, slots=True)
class Situation:
    """What the steps are chosen from."""

    house: House
    voice: Voice
    rule: Rule
    """The one that decided."""
    case: Case
    findings: tuple[Finding, ...] = ()
    leading: Cause | None = None
    """The likeliest cause, where it is worth naming."""
    weights: Mapping[State, float] = field(default_factory=dict)
    """Chances of what may be true."""
    sizes: Sizes = field(default_factory=Sizes)
    suspects: Suspects = field(default_factory=Suspects)
    """What the suspected size fits."""
    measures: tuple[Measure, ...] = ()
    visible_percent: float | None = None
    """Smallest meter error these bills would have shown."""
    planned: RunPlan | None = None
    """A run that the house's interval data would read by themselves."""
    pricier: bool = False
    """Whether a bill is dearer by the price of a kWh, and not by use."""
    named: Event | None = None
    """The diary's line that tells of the likeliest rise, or names what may be it."""
    last_bill: Period | None = None
    """The last bill, with its mark."""
    odd: tuple[Period, ...] = ()
    """Bills that stand out: the high ones, else the low ones."""
    doubted: tuple[Period, ...] = ()
    """Bills whose readings may be off."""
    away: bool = False
    """Whether the diary says of every low bill that nobody was at home."""
    pair: tuple[Period, Period] | None = None
    """Two neighboring bills between which use likely moved."""
    proved: Finding | None = None
    """What the records show of more money than the high bills are over."""
    exchanged_in: bool = False
    """Whether the meter was exchanged within the one high bill, and its two readings then are not known."""
    looked: Looked | None = None
    """What the diary tells since the cause began: a look made, or something done."""
    whose: tuple[str, ...] = ()
    """What the records leave open of the meter the bills are of: its ``home``, or its ``multiplier``."""
    may_be_doubled: bool = False
    """Whether the kWh of two meters may lie apart by a factor of two, as another multiplier makes them."""

    @property
    def meter_work(self) -> bool:
        """Whether the diary tells of work at the meters at that time."""
        event = self.named
        return event is not None and bool(METER_WORK.search(f"{event.load or ''} {event.note or ''}"))

    @property
    def fell(self) -> bool:
        """Whether less is likely used, or counted, for good, and no line of the diary tells of it."""
        cause = self.leading
        if cause is None or self.away or self.named is not None or cause.probability < self.costs.likely:
            return False
        return cause.code in LASTING_FALLS and cause.since is not None and (cause.kwh or 0.0) < 0.0

    @property
    def less(self) -> bool:
        """Whether it is less that is to be told apart: of a slow old meter it is what came after that is more."""
        if self.rule.name in ("meter-slow", "falls"):
            return True
        return self.leading is not None and self.leading.code != "old-meter-slow" and (self.leading.kwh or 0.0) < 0.0

    @property
    def unlike(self) -> bool:
        """Whether the bills of some months are unlike the others, as another home's are, and no diary tells why."""
        return self.leading is not None and self.leading.code == "timed-load" and self.named is None

    @property
    def exchanged(self) -> bool:
        """Whether the billing records hold an exchange of the meter: the removed one's own test tells the rest."""
        return any(finding.code == "meter-exchange" for finding in self.findings)

    @property
    def costs(self) -> Costs:
        """What wrong acts cost here."""
        return self.case.costs

    @property
    def wrong_meter(self) -> float:
        """Chance that the meter now on the wall is fast or slow."""
        odds = self.case.odds
        return 0.0 if odds is None else odds.fast + odds.slow

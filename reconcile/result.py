"""The answer: one frozen object, one dictionary, from which every rendering is made."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from reconcile.facts import Finding
from reconcile.house import House
from reconcile.interval.found import IntervalResult
from reconcile.say import Voice
from reconcile.show import shown

if TYPE_CHECKING:
    import pandas as pd

    from reconcile.meter.judge import FieldTestResult
    from reconcile.money.account import Money

SCHEMA = "reconcile/1"

NO_MONEY: dict[str, Any] = {"recomputed": [], "bridge": None, "disputed": {}, "notes": []}
"""What is said of money where neither an amount nor a tariff is known."""


@dataclass(frozen=True, slots=True)
class Period:
    """One billing period, weighed. Energies are kWh over the whole period; None where it could not be judged."""

    start: date
    end: date
    days: int
    billed_kwh: float | None
    flag: str
    """``within``, ``over``, ``under`` or ``not-judged``."""
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


@dataclass(frozen=True, slots=True)
class Cause:
    """An inference: a cause that may act, the chance that it does, and its size if it does."""

    code: str
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


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do. ``hazard`` orders them: 0 paper, 1 looking and writing down, 2 plug-in work,
    3 main breaker with covers on, 4 the utility's people, 5 a qualified person at the panel.
    """

    text: str
    hazard: int
    cautions: tuple[str, ...] = ()
    proves: str = ""


@dataclass(frozen=True, slots=True)
class Verdict:
    """The decision, why, and what to do, in order of hazard."""

    decision: str
    headline: str
    field_test_warranted: bool
    reasons: tuple[str, ...]
    next_steps: tuple[Step, ...]
    smallest_visible_meter_error_percent: float | None
    smallest_visible_constant_watts: float | None = None


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


@dataclass(frozen=True, slots=True)
class Measure:
    """What to measure next: the loads in order of gain for effort and how narrow the doubt becomes after each."""

    load: str
    how: str
    doubt_percent_after: float
    """Smallest visible meter error [%] once this and all those above it are measured."""


@dataclass(frozen=True, slots=True, eq=False)
class Reconciliation:
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

    @property
    def periods(self) -> pd.DataFrame:
        """Periods as a frame, one row a billing period."""
        import pandas as pd

        frame = pd.DataFrame([asdict(row) for row in self.rows])
        return frame

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
            "findings": [plain(asdict(finding)) for finding in self.findings],
            "causes": [plain(asdict(cause)) for cause in self.causes],
            "verdict": {
                "decision": verdict.decision,
                "headline": verdict.headline,
                "field_test_warranted": verdict.field_test_warranted,
                "reasons": list(verdict.reasons),
                "next_steps": [step.text for step in verdict.next_steps],
                "steps": [plain(asdict(step)) for step in verdict.next_steps],
                "smallest_visible_meter_error_percent": verdict.smallest_visible_meter_error_percent,
                "smallest_visible_constant_watts": verdict.smallest_visible_constant_watts,
            },
            "loads": [plain(asdict(load)) for load in self.loads],
            "money": NO_MONEY if self.money is None else self.money.to_dict(),
            "interval": None if self.interval is None else self.interval.to_dict(voice),
            "field_test": None if self.field_test is None else self.field_test.to_dict(),
            "visible": None if self.visible is None else plain(asdict(self.visible)),
            "measures": [plain(asdict(measure)) for measure in self.measures],
            "over_confident": self.over_confident,
            "doubt_scale": self.doubt_scale,
            "notices": list(self.notices),
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

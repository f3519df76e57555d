"""The answer: one frozen object, one dictionary, from which every rendering is made."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, field
from datetime import date
from decimal import Decimal
from enum import Enum
from typing import TYPE_CHECKING, Any

from reconcile import __version__
from reconcile.costs import Costs
from reconcile.facts import Finding
from reconcile.frames import SCHEMA as SCHEMA
from reconcile.frames import Frames
from reconcile.house import House
from reconcile.interval.found import IntervalResult
from reconcile.kinds import Flag
from reconcile.records import dataclass
from reconcile.result_parts import Cause as Cause
from reconcile.result_parts import LoadShare as LoadShare
from reconcile.result_parts import Measure as Measure
from reconcile.result_parts import OneOf as OneOf
from reconcile.result_parts import Outcome as Outcome
from reconcile.result_parts import Over as Over
from reconcile.result_parts import Period as Period
from reconcile.result_parts import Step as Step
from reconcile.result_parts import Verdict as Verdict
from reconcile.result_parts import Visible as Visible
from reconcile.say import Voice
from reconcile.show import shown
from reconcile.texts.findings import finding_do, finding_text
from reconcile.voices import voice_of

if TYPE_CHECKING:
    import pandas as pd

    from reconcile.meter.judge import FieldTestResult
    from reconcile.money.account import Money

SUMMARY = (
    *("start", "end", "days", "billed_kwh", "usual_kwh", "usual_low_kwh", "usual_high_kwh"),
    *("excess_kwh", "flag"),
)
"""Columns of ``periods`` that are printed."""

NO_MONEY: dict[str, Any] = {
    "recomputed": [],
    "bridge": None,
    "disputed": {},
    "short": {},
    "refunds": [],
    "supposed": [],
    "notes": [],
}
"""What is said of money where neither an amount nor a tariff is known."""


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
        return voice_of(self.house)

    def __repr__(self) -> str:
        judged = sum(row.flag != Flag.NOT_JUDGED for row in self.rows)
        told = f"{self.verdict.decision}, {judged} of {len(self.rows)} bills judged"
        return f"<Reconciliation of {self.house.name!r}: {told}>"

    def summary(self) -> pd.DataFrame:
        """Return the chief columns of ``periods``, ready to print.

        Returns
        -------
        pandas.DataFrame
            One row a billing period.

            - ``start``, ``end``: dates of the opening and the closing reading.
            - ``days`` [d]: between them.
            - ``billed_kwh`` [kWh]: as billed.
            - ``usual_kwh``, ``usual_low_kwh``, ``usual_high_kwh`` [kWh]: from the list and all the other bills, with
              the limits of all the bills together.
            - ``excess_kwh`` [kWh]: billed less usual.
            - ``flag``: ``within``, ``over``, ``under`` or ``not-judged``.
        """
        return self.periods[list(SUMMARY)]

    def to_dict(self) -> dict[str, Any]:
        """Return the answer in the form of ``result.json`` (schema ``reconcile/1``).

        Returns
        -------
        dict
            Plain JSON values only.
        """
        verdict = self.verdict
        voice = voice_of(self.house)
        return {
            "schema": SCHEMA,
            "house": self.house.name,
            "currency": self.house.currency,
            "periods": self._periods(),
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
                "meter_open": list(verdict.meter_open),
                "over": plain(asdict(verdict.over)),
                "under": plain(asdict(verdict.under)),
                "reasons": list(verdict.reasons),
                "next_steps": [step.text for step in verdict.next_steps],
                "steps": [plain(asdict(step)) for step in verdict.next_steps],
                "requests": list(verdict.requests),
                "smallest_visible_meter_error_percent": verdict.smallest_visible_meter_error_percent,
                "smallest_visible_constant_watts": verdict.smallest_visible_constant_watts,
                "could_hide": plain(asdict(verdict.could_hide)),
                "weather_could_hide": [plain(asdict(one)) for one in verdict.weather_could_hide],
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

    def _periods(self) -> list[dict[str, Any]]:
        """Each bill with its money: as billed, and by the tariff."""
        ours = {} if self.money is None else {one.period: one.ours for one in self.money.recomputed}
        billed = [bill.amount for bill in self.house.bills]
        return [
            plain({**asdict(row), "billed_amount": billed[n], "recomputed_amount": ours.get(n)})
            for n, row in enumerate(self.rows)
        ]

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
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value

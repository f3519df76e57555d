"""Sentences of findings, of the billing records and of interval data alike."""

from __future__ import annotations

from reconcile.facts import Aside, Finding
from reconcile.say import Voice
from reconcile.texts import Sentence, tell
from reconcile.texts.charge_findings import CHARGES
from reconcile.texts.fact_findings import BEFORE_STATISTICS
from reconcile.texts.interval_findings import INTERVAL
from reconcile.texts.record_findings import RECORDS
from reconcile.texts.requests import HOUSEHOLD, REQUESTS

FINDINGS: dict[str, Sentence] = {**RECORDS, **CHARGES, **BEFORE_STATISTICS, **INTERVAL}
"""Sentence of each finding by ``code`` or ``code/case``."""

ASIDE: dict[Aside, str] = {
    Aside.CANCELLED: "The utility cancelled this bill.",
    Aside.REPLACED: "A corrected bill replaces this one.",
    Aside.REPEATED: "This bill is in the file more than once.",
    Aside.CONTRADICTED: "Another bill has the same dates and other kWh, and the records do not say which one stands.",
    Aside.OVERLAPPING: "Its dates overlap another bill's, so its days are not known.",
    Aside.OPENS_ESTIMATED: "It opens with the estimate of a bill that is not here, and puts its error right.",
    Aside.STILL_ESTIMATED: "Its closing reading is an estimate, and no bill with an actual reading follows it.",
    Aside.BACKWARDS: "Its readings run backwards, and its kWh do not follow from them.",
    Aside.MULTIPLIER: "Its multiplier does not fit.",
    Aside.STOPPED: "The meter seems to have stopped: its kWh do not say what was used.",
    Aside.SENT_OUT_UNKNOWN: "It does not say what was sent out, so what was used is not known.",
    Aside.UNIT: "Its kWh seem to be in another unit or in another column.",
    Aside.OTHER_METER: "It may be of another meter than this home's.",
    Aside.MISTYPED: "Its amount pays for other kWh than those typed.",
}
"""Why a bill is not judged."""


def finding_text(finding: Finding, voice: Voice) -> str:
    """Say a finding in a sentence or two."""
    return tell(voice, FINDINGS, finding.key, finding.figures)


def finding_do(finding: Finding, voice: Voice) -> str:
    """Say what a finding asks: of the utility first, then of the household.

    Returns
    -------
    str
        Empty where it asks nothing.
    """
    asked = [voice.fill(REQUESTS[key].step, finding.figures) for key in finding.asks]
    return " ".join([*asked, *(tell(voice, HOUSEHOLD, key, finding.figures) for key in finding.household)])


def aside_text(why: Aside, voice: Voice) -> str:
    """Say why a bill is not judged."""
    return voice.fill(ASIDE[why], {})

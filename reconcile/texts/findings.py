"""Sentences of findings, of the billing records and of interval data alike."""

from __future__ import annotations

from reconcile.facts import Finding
from reconcile.say import Voice
from reconcile.texts import Sentence, tell
from reconcile.texts.interval_findings import INTERVAL
from reconcile.texts.requests import HOUSEHOLD, REQUESTS

FINDINGS: dict[str, Sentence] = {**INTERVAL}
"""Sentence of each finding by ``code`` or ``code/case``."""


def finding_text(finding: Finding, voice: Voice) -> str:
    """Say a finding in a sentence or two.

    Parameters
    ----------
    finding : Finding
    voice : Voice

    Returns
    -------
    str
    """
    return finding.text or tell(voice, FINDINGS, finding.key, finding.figures)


def finding_do(finding: Finding, voice: Voice) -> str:
    """Say what a finding asks: of the utility first, then of the household.

    Parameters
    ----------
    finding : Finding
    voice : Voice

    Returns
    -------
    str
        Empty where it asks nothing.
    """
    if finding.do:
        return finding.do
    asked = [REQUESTS[key].step for key in finding.asks] + [HOUSEHOLD[key] for key in finding.household]
    return " ".join(voice.fill(text, finding.figures) for text in asked)

"""Sentences of findings, of the billing records and of interval data alike."""

from __future__ import annotations

from reconcile.facts import Finding
from reconcile.say import Voice
from reconcile.texts import Sentence, tell

FINDINGS: dict[str, Sentence] = {}
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

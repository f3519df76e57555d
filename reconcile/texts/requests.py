"""What may be asked of the utility, once for the step and once for the letter, and of the household."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Request:
    """One thing asked of the utility's billing desk: the step says it to the household, the letter to the desk."""

    step: str
    letter: str


REQUESTS: dict[str, Request] = {}
"""Requests by key; findings and decisions name them, the steps and the letter say them, no more and no less."""

HOUSEHOLD: dict[str, str] = {}
"""What a finding asks of the household itself, by key."""

"""Which call an answer asks for where nothing is asked of the utility: one answer for the phone and for the letter."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reconcile.costs import COSTS
from reconcile.report.views.first_view import fell, used_more

if TYPE_CHECKING:
    from reconcile.result import Cause, Reconciliation

ASKS_MORE = ("download", "more-weather", "more-loads", "more-bills", "sharper-loads")
"""Steps that say that the bills alone do not tell."""
MAY_ASK = ("compare", "diary")
"""Steps after which the billing desk may have to be asked all the same."""
ON_WEATHER = ("heating-rise", "cooling-rise")


def call_of(result: Reconciliation) -> str:
    """Return a decision, or what stands in its place: ``cannot-tell``, or what another firm is called for."""
    verdict = result.verdict
    step = next((step.code for step in verdict.next_steps if step.code in ("leave-off", "backup-heat", "panels")), "")
    if step:
        return step
    if verdict.rule == "generation":
        return "generation-fall"
    if verdict.rule == "falls":
        return "falls"
    if (cause := weather_cause(result)) is not None:
        return cause.code
    wanting = verdict.rule == "explained" and any(s.code in ASKS_MORE and not s.optional for s in verdict.next_steps)
    unsaid = verdict.decision in ("explained", "paperwork") and verdict.cannot_tell
    if unsaid or verdict.blind or wanting:
        return "cannot-tell"
    return _calm(result) if verdict.decision in ("explained", "paperwork") else str(verdict.decision)


def weather_cause(result: Reconciliation) -> Cause | None:
    """The heating or cooling that takes more, where that is the answer."""
    if result.verdict.rule != "equipment":
        return None
    return max((one for one in result.causes if one.code in ON_WEATHER), key=lambda one: one.probability)


def _calm(result: Reconciliation) -> str:
    """What is said where nothing needs a check: no all-clear over a rise that is told, or a cause left open."""
    verdict = result.verdict
    if used_more(result) and verdict.decision == "explained":
        return "used-more-yet" if any(step.code in MAY_ASK for step in verdict.next_steps) else "used-more"
    if fell(result) or (verdict.under.bills and verdict.decision == "explained"):
        return "fell"
    at = (result.costs or COSTS).look_at
    open_yet = [c for c in result.causes if c.code not in ("none", "unlisted") and (c.kwh or 0.0) > 0.0]
    return "watch" if any(c.probability >= at for c in open_yet) else "explained"

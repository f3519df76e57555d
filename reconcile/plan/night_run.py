"""A run by night that the house's own interval data would read, with nobody at the meter."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from reconcile.house import House
from reconcile.interval.planned_run import RunPlan, RunRead, plan_run
from reconcile.say import Voice
from reconcile.texts import tell
from reconcile.texts.step_words import CHECKS, PLANNED, planned_words

HEATER_KW, WANTED, WORTH_PLANNING = 1.5, 0.0135, 0.06
"""Power of the heater planned with [kW], the standard uncertainty of registration aimed at (95 % limits within 3 %, and
a tenth less), and the largest with which a run is worth its nights: it still tells a fifth from nothing (our own
judgement)."""


def planned(house: House, read: RunRead | None = None) -> RunPlan | None:
    """Plan the run that the house's own interval data would read best, where none has been made that tells enough.

    Parameters
    ----------
    read : RunRead or None
        The run that was made, where the data hold it.

    Returns
    -------
    RunPlan or None
        None without such data, where the house sends energy back, or where no plan of ours tells enough.
    """
    blunt = read is not None and read.standard_uncertainty > WORTH_PLANNING
    made = house.field_test is not None and bool(house.field_test.interval_runs) and not blunt
    if house.interval is None or house.generation or made or not len(house.interval.kwh):
        return None
    plan = plan_run(house.interval, ZoneInfo(house.timezone), HEATER_KW, WANTED)
    return plan if plan is not None and plan.standard_uncertainty <= WORTH_PLANNING else None


def run_words(plan: RunPlan) -> dict[str, str]:
    """Return the hours, the times and the doubt of a planned run, for the sentences."""
    told = {"from_hour": plan.from_hour, "nights": plan.nights, "on_hours": plan.on_hours}
    return planned_words(told | {"doubt_percent": 200.0 * plan.standard_uncertainty})


def run_told(plan: RunPlan, voice: Voice) -> str:
    """Say what to do on those nights, as the steps of an answer do."""
    return tell(voice, {PLANNED: CHECKS[PLANNED].do}, PLANNED, run_words(plan))

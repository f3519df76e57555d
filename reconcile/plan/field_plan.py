"""The plan of a field test: what to do first with every cover closed, and whether the test can answer at all."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from reconcile.house import House
from reconcile.meter.load_run import current_meter
from reconcile.meter.reference_load import Candidate, candidates, panel_reference, plug_in_reference
from reconcile.meter.resolve import (
    Resolution,
    clamp_resolution,
    plug_in_resolution,
    plug_limit_watts,
    utility_resolution,
)
from reconcile.plan.field_steps import PlanStep, plan_steps
from reconcile.show import shown
from reconcile.site import Instruments
from reconcile.texts import safety

if TYPE_CHECKING:
    import pandas as pd

METER_CAUSES = ("meter-step", "meter-always", "old-meter-slow", "meter-low")
CONSTANT_CAUSES = ("constant-load",)
LIKELY_ENOUGH = 0.1
"""A cause below this chance gives the plan no size to look for."""


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """A field test, planned.

    Attributes
    ----------
    house : str
    urgent : bool
        A danger was reported: there are no steps, only whom to call.
    headline : str
        Whether a test can answer, in one sentence.
    cautions : tuple of str
        Stand before everything.
    suspected_percent, suspected_watts : float or None
        Size that the test should tell.
    tolerance_percent : float
    steps : tuple of PlanStep
        In order of hazard; every one with its own cautions first.
    resolutions : tuple of Resolution
        What each test could tell.
    loads : tuple of Candidate
        Listed loads as references, the best first.
    reference : Candidate or None
        Load of the plug-in run.
    panel_load : Candidate or None
        Load for readings by a qualified person.
    meter, service : str
    notes : tuple of str
    """

    house: str
    urgent: bool
    headline: str
    cautions: tuple[str, ...]
    suspected_percent: float | None
    suspected_watts: float | None
    tolerance_percent: float
    steps: tuple[PlanStep, ...]
    resolutions: tuple[Resolution, ...]
    loads: tuple[Candidate, ...]
    reference: Candidate | None
    panel_load: Candidate | None
    meter: str
    service: str
    notes: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return the plan as plain JSON values."""
        made: dict[str, Any] = _plain(asdict(self))
        return made

    def summary(self) -> pd.DataFrame:
        """Return what each test could tell as a frame, ready to print."""
        import pandas as pd

        keep = (
            "title",
            "load_watts",
            "seconds",
            "expanded_percent",
            "test_uncertainty_ratio",
            "smallest_error_percent",
        )
        return pd.DataFrame([{name: getattr(r, name) for name in keep} for r in self.resolutions], columns=keep)

    def text(self) -> str:
        """Return the plan as plain text."""
        return shown(self, "text")

    def _repr_html_(self) -> str:
        return shown(self, "html")


def plan_test(
    house_or_result: Any, instruments: Instruments | None = None, suspected_percent: float | None = None
) -> Plan:
    """Plan a field test that begins with every cover closed.

    Parameters
    ----------
    house_or_result : House or Reconciliation
        From a reconciliation the size to look for is that of its likeliest meter cause.
    instruments : Instruments, optional
        What is at hand; the house's own field test's, else usual ones.
    suspected_percent : float, optional
        Error of the meter to look for [%], in place of the one inferred.

    Returns
    -------
    Plan

    Raises
    ------
    ValueError
        Where the suspected error is not a finite number other than zero.

    Examples
    --------
    >>> plan = plan_test(House("a", (), service="split-phase"), suspected_percent=20.0)
    >>> [step.who for step in plan.steps][-1]
    'a qualified person'
    >>> plan.resolutions[0].resolves
    True
    """
    if suspected_percent is not None and (not math.isfinite(suspected_percent) or suspected_percent == 0.0):
        raise ValueError("the suspected error must be a finite percentage other than zero")
    house: House = getattr(house_or_result, "house", house_or_result)
    own = house.field_test.instruments if house.field_test is not None else None
    instruments = instruments or own or Instruments()
    meter = current_meter(house)
    told_percent, told_watts = suspected_of(house_or_result)
    suspected = suspected_percent if suspected_percent is not None else told_percent
    known = (("form", meter.form), ("number", meter.number))
    label = ", ".join([meter.type, *(f"{name} {value}" for name, value in known if value)])
    if house.dangers:
        stop = safety.dangers(house.dangers)
        headline = "Stop: a sign of danger was reported. No test now; call first."
        return Plan(
            house.name,
            True,
            headline,
            stop,
            suspected,
            told_watts,
            meter.tolerance_percent,
            (),
            (),
            (),
            None,
            None,
            label,
            house.service,
        )
    found = candidates(house)
    reference = plug_in_reference(house, found)
    panel = panel_reference(found, plug_limit_watts(house))
    tried = (
        plug_in_resolution(house, instruments, reference.watts, suspected),
        clamp_resolution(house, instruments, panel.watts if panel else 4500.0, suspected),
        utility_resolution(house, suspected),
    )
    resolutions = tuple(r for r in tried if r is not None)
    return Plan(
        house.name,
        False,
        _headline(resolutions, suspected, told_watts, meter.tolerance_percent),
        safety.said(safety.first_of_all(house)),
        suspected,
        told_watts,
        meter.tolerance_percent,
        plan_steps(house, meter, instruments, reference, panel, resolutions, told_watts),
        resolutions,
        found,
        reference,
        panel,
        label,
        house.service,
        _notes(house),
    )


def suspected_of(result: Any) -> tuple[float | None, float | None]:
    """Return the size of the likeliest meter cause [%] and of the likeliest round-the-clock load [W] of a result."""
    sizes: list[float | None] = []
    for codes in (METER_CAUSES, CONSTANT_CAUSES):
        likely = [
            c
            for c in getattr(result, "causes", ())
            if c.code in codes and c.size is not None and c.size != 0.0 and c.probability >= LIKELY_ENOUGH
        ]
        best = max(likely, key=lambda c: c.probability, default=None)
        sizes.append(float(best.size) if best is not None else None)
    return sizes[0], sizes[1]


def _headline(
    resolutions: tuple[Resolution, ...], suspected: float | None, watts: float | None, tolerance: float
) -> str:
    plug = next((r for r in resolutions if r.test == "plug-in"), None)
    clamps = next((r for r in resolutions if r.test == "clamps"), None)
    if suspected is None:
        if plug is None:
            return "Begin with the checks below; nothing is opened."
        return (
            f"Nothing has to be opened: a plug-in run can tell a meter that is out by "
            f"{plug.smallest_error_percent:.0f} % "
            f"or more from one inside {100.0 - tolerance:g} to {100.0 + tolerance:g} %."
        )
    size = f"{abs(suspected):.0f} %" if abs(suspected) >= 5.0 else f"{abs(suspected):.1f} %"
    if plug is not None and plug.resolves:
        return (
            f"Nothing has to be opened: a plug-in run can tell a meter that is {size} out (it tells "
            f"{plug.smallest_error_percent:.1f} % and more)."
        )
    if clamps is not None and clamps.resolves:
        return (
            f"A plug-in run with these instruments would not tell {size}; a qualified person's readings at the legs "
            "would, and so would the utility's test, for which nobody but the utility opens anything: ask for that "
            "first."
        )
    return (
        f"No test with these instruments would tell {size} from a meter inside {100.0 - tolerance:g} to "
        f"{100.0 + tolerance:g} %: the utility's test against a reference standard is the step."
    )


def _notes(house: House) -> tuple[str, ...]:
    meter = current_meter(house)
    said = []
    if house.service == "unknown":
        said.append("The kind of service is not known (service), so readings at the legs cannot be planned or judged.")
    if meter.display == "kW demand":
        said.append("The display's kW is demand, an average of many minutes: use pulses, the disk or the kWh instead.")
    if meter.type == "disk" and meter.disk_wh is None:
        said.append("The Wh a disk turn (Kh, on the nameplate) is not written down; 7.2 was taken for planning.")
    if meter.type == "electronic" and meter.pulse_wh is None:
        said.append("The Wh a pulse (Kt or imp/kWh, on the nameplate) is not written down; 1 was taken for planning.")
    if meter.test_amps is None:
        said.append(
            "The meter's test amps (TA, on the nameplate) are not written down: load points will be indicative."
        )
    if meter.multiplier != 1.0:
        said.append(f"Every reading of this meter is multiplied by {meter.multiplier:g}.")
    if house.generation:
        said.append(
            "The house makes its own power: switch that off for every run, as its makers say, or wait for dark."
        )
    return tuple(said)


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value

"""Signs of danger: what each may mean, what to do now, whom to call. They end every test."""

from __future__ import annotations

from reconcile.records import dataclass


@dataclass(frozen=True, slots=True)
class Danger:
    """What a sign of danger may mean, what to do now, and whom to call."""

    sign: str
    may_mean: str
    do: str
    call: str


DANGER: dict[str, Danger] = {
    "warm_meter": Danger(
        "The meter, its box or the panel is warm.",
        "A loose or burnt contact in it, which can end in fire.",
        "Do not touch it again. Switch off large loads where they stand, keep people away from that wall.",
        "The utility's emergency line now for the meter, a licensed electrician now for the panel; the fire service if there "
        "is smoke or a glow.",
    ),
    "buzzing": Danger(
        "Something buzzes or crackles at the meter or the panel.",
        "A contact that arcs.",
        "Leave the panel closed and step away from it. Switch off large loads where they stand.",
        "The utility's emergency line for a sound at the meter, a licensed electrician today for one at "
        "the panel; the fire service if there is smoke.",
    ),
    "burning_smell": Danger(
        "There is a burning or fishy smell near the meter, the panel or an outlet.",
        "Insulation that is overheating.",
        "Leave the house if it grows or if there is smoke. Open nothing.",
        "The fire service if in any doubt, then the utility's emergency line.",
    ),
    "lights_brighten_and_dim": Danger(
        "Some lights brighten while others dim, or change as large loads start.",
        "A loose or broken neutral: part of the house then gets far too many volts, which ruins "
        "appliances and starts fires.",
        "Away from meter and panel, switch appliances off and unplug them where that is safe. Do not test further.",
        "The utility's emergency line now: say 'possible open neutral'.",
    ),
    "water_at_meter": Danger(
        "There is water or rust streaks in or under the meter, the conduit or the panel.",
        "Water along the service conduit into live parts.",
        "Keep away, keep others away, do not touch the panel from a wet floor.",
        "The utility's emergency line now.",
    ),
    "damaged_conduit": Danger(
        "The meter's glass or cover, the service conduit or its cable is broken, rusted through or pulled from the wall.",
        "Bare live wires that no breaker in the house protects, or a cable that leaks to the soil.",
        "Touch neither it nor a fence, gutter or wet ground beside it.",
        "The utility's emergency line now.",
    ),
    "shock": Danger(
        "Somebody felt a tingle or a shock from a tap, an appliance, the ground or a metal box.",
        "Current where there should be none: a lost neutral or ground, or a cable that leaks.",
        "Do not touch it again, keep children and animals away. After a real shock see a doctor, even if "
        "all seems well.",
        "The utility's emergency line now, then a licensed electrician; the ambulance for anyone hurt.",
    ),
    "sparks_or_scorching": Danger(
        "An outlet, a switch, a plug or a wire is hot, melted or scorched, or something sparks.",
        "A loose contact that burns, which can end in fire.",
        "Do not touch it and do not use it again. If its breaker can be reached with every cover on and nothing there is "
        "warm, wet or noisy, switch that breaker off.",
        "A licensed electrician today; the fire service if there is smoke or a glow; the utility's emergency line if "
        "it is at the meter.",
    ),
    "loose-neutral": Danger(
        "The volts of the legs differ clearly under load.",
        "A loose or broken neutral: one part of the house gets far too many volts.",
        "Close up. Switch off and unplug what can be reached safely. Do not test further.",
        "The utility's emergency line now: say 'possible open neutral'.",
    ),
    "poor-joint": Danger(
        "An outlet loses more than a tenth of its volts while the load runs.",
        "A poor joint in the outlet, its plug or the wires to it, which heats and can burn; or a loose neutral.",
        "Switch the load off, unplug it where the plug is not hot, and use nothing on that outlet's circuit.",
        "A licensed electrician today, before any other test; the fire service if there is smoke or a glow; the utility's "
        "emergency line if lights in other rooms brighten or dim with the load.",
    ),
    "buried-line": Danger(
        "The meter counts with the main off, and the service wires run underground.",
        "A buried cable that leaks to the soil, which can make the ground live.",
        "Keep people and animals off the ground above it. Do not dig, do not test further.",
        "The utility's emergency line now.",
    ),
}
"""By the names of :data:`reconcile.house.DANGERS`, and by those of what a field test itself may find."""

URGENT: tuple[str, ...] = (
    "Stop here: no test, no reading, nothing opened.",
    "Call the utility's emergency line; its number is on the bill and on its web site. It costs nothing to be wrong.",
)
"""What stands before everything where a danger is reported, or found on site."""


def dangers(names: tuple[str, ...]) -> tuple[str, ...]:
    """Return what each reported sign may mean and what to do, the stop sentence first.

    Parameters
    ----------
    names : tuple of str
        Keys of :data:`DANGER`.

    Returns
    -------
    tuple of str
        Empty where nothing is reported.

    Examples
    --------
    >>> dangers(("shock",))[0]
    'Stop here: no test, no reading, nothing opened.'
    >>> dangers(())
    ()
    """
    if not names:
        return ()
    told = [DANGER[name] for name in names]
    return (*URGENT, *(f"{d.sign} {d.do} Call {_lower(d.call)} It may mean {_lower(d.may_mean)}" for d in told))


def meaning(name: str) -> str:
    """Return what a sign may mean, the sign first.

    Examples
    --------
    >>> meaning("buzzing")
    'Something buzzes or crackles at the meter or the panel. It may mean a contact that arcs.'
    """
    return f"{DANGER[name].sign} It may mean {_lower(DANGER[name].may_mean)}" if name in DANGER else ""


def _lower(text: str) -> str:
    """Continue a sentence with a text that begins one."""
    return text[:1].lower() + text[1:]

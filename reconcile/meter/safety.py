"""Cautions that stand before the step they belong to, as plain sentences.

Every tuple here is text for the reader of a plan, a sheet or a report; the figures in them name their source
in :data:`SOURCES`, with whether the source itself was read. Local codes, the utility's rules and licensed
practice come before anything written here. Nothing here permits an unqualified person to open anything.
"""

from __future__ import annotations

from dataclasses import dataclass

Lines = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Source:
    """Where a figure in a caution comes from, and whether the source itself was read (``status``)."""

    figure: str
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class Danger:
    """What a sign of danger may mean, what to do now, and whom to call."""

    sign: str
    may_mean: str
    do: str
    call: str


FIRST: Lines = (
    "Local electrical codes, the utility's own rules and licensed practice come before this page.",
    "Nothing here asks you to open anything. If a step cannot be done with every cover closed, it is not yours to do.",
    "Stop and call at any of these: a warm meter or panel, a burning or fishy smell, buzzing, wet or rusted-through "
    "parts, a tingle, lights that brighten when others dim, a meter that counts with the main off on an underground "
    "service.",
)
"""Stands at the head of every plan and sheet."""

OUTSIDE_LOOK: Lines = (
    "Look, listen and smell only. Touch nothing: not the meter, its ring or seal, not the conduit, not a loose wire.",
    "Stand on dry ground, an arm's length or more away, and not in rain or standing water.",
    "The meter, its socket and its seal belong to the utility. Never pull, turn or open them.",
)

PLUG_IN: Lines = (
    "Use an undamaged receptacle, plug-in meter and cord; no extension cord, no adapter, dry hands, dry floor.",
    "Stay within what is printed on the plug-in meter and the receptacle; a big heater for an hour is a heavy load.",
    "Touch the plug after two minutes: if it is more than hand-warm, or there is a smell or a crackle, "
    "switch off and stop.",
    "A heater stands clear of anything that burns, and is never left alone.",
)

MAIN_OFF: Lines = (
    "First ask who in the home depends on power: breathing or other medical equipment, a lift or stair "
    "lift, alarms. "
    "If anyone does, leave this step to the utility.",
    "A sump pump, a freezer, an aquarium or a furnace in frost may not wait: choose the hour, keep it "
    "short, and "
    "shut down computers in the ordinary way first.",
    "Only with a sound panel: closed door and cover, dry, no heat, smell, noise or rust. A breaker that "
    "has not moved "
    "for years may not close again: if the panel is old or unsure, leave this step to an electrician.",
    "Solar panels, a battery, a generator or a car that feeds the house keep parts alive and upset the "
    "reading: "
    "switch them off first as their makers say, or leave this step out.",
    "Dry hands, dry floor, shoes on, stand to the side of the panel, face turned away, one hand, a light "
    "that does not "
    "need the house's power, a second person near.",
    "Branch breakers off one by one first, the main last. Afterwards the main on first, then the branches one by one.",
    "With the main off the wires from the meter to the main stay live, and so does everything ahead of "
    "it. Every cover stays on.",
    "If the home has no single main, or more than one disconnect that you cannot name, leave this step to "
    "an electrician.",
)

QUALIFIED_ONLY: Lines = (
    "Only a person qualified under the local rules (as a rule a licensed electrician) removes a cover or "
    "takes a reading "
    "behind one. An unqualified person stays at least 3 ft 6 in (1.07 m) away from open live parts, and "
    "does not hold, read or help.",
    "The wires from the meter to the main stay live with the main off: nothing in the house can switch them off.",
    "The meter and its socket stay closed and sealed: seals are the utility's, and only the utility breaks them.",
    "Work de-energised wherever it can be; a reading on live parts needs the local rules' permit and a reason.",
    "Before touching anything taken as dead: meter proved on a known live source, the parts tested, the "
    "meter proved again.",
    "Voltage-rated gloves with leather over them, eye and face protection and arc-rated clothing as the "
    "equipment's "
    "label or the local table asks. One hand in the pocket replaces none of these.",
    "No metal worn: rings, watch, chain, belt buckle, glasses on a chain. Dry skin, dry floor, insulating "
    "shoes or mat, "
    "a second person who knows where to cut power and whom to call.",
    "Instrument and leads rated CAT III at the panel's branch side and CAT IV at the main lugs and the "
    "service wires, at "
    "least 300 V, undamaged, with the right leads in the right jacks.",
    "Clamp only insulated conductors that can be reached without moving them; nothing is loosened, bent or forced.",
    "A 120/208 V network can feed a very high fault current: its panels are for persons equipped for that.",
    "Stop at once, close up and call the utility's emergency line: heat, smell, buzzing, water, rusted or "
    "broken "
    "conduit, lights that brighten and dim, or legs whose volts differ clearly under load (a loose neutral).",
)

DANGER: dict[str, Danger] = {
    "warm_meter": Danger(
        "The meter or its socket is warm.",
        "A loose or burnt contact in the socket, which can end in fire.",
        "Do not touch it again. Switch off large loads from inside, keep people away from that wall.",
        "The utility's emergency line now; the fire service if there is smoke or a glow.",
    ),
    "buzzing": Danger(
        "Something buzzes or crackles at the meter or the panel.",
        "A contact that arcs.",
        "Leave the panel closed and step away from it. Switch off large loads where they stand.",
        "The utility's emergency line for a sound at the meter, a licensed electrician today for one at "
        "the panel; "
        "the fire service if there is smoke.",
    ),
    "burning_smell": Danger(
        "There is a burning or fishy smell near the meter, the panel or a receptacle.",
        "Insulation that is overheating.",
        "Leave the house if it grows or if there is smoke. Open nothing.",
        "The fire service if in any doubt, then the utility's emergency line.",
    ),
    "lights_brighten_and_dim": Danger(
        "Some lights brighten while others dim, or change as large loads start.",
        "A loose or broken neutral: part of the house then gets far too many volts, which ruins "
        "appliances and starts fires.",
        "Switch off and unplug what you can reach safely. Do not test further.",
        "The utility's emergency line now: say 'possible open neutral'.",
    ),
    "water_at_meter": Danger(
        "There is water or rust streaks in or under the meter, the conduit or the panel.",
        "Water along the service conduit into live parts.",
        "Keep away, keep others away, do not touch the panel from a wet floor.",
        "The utility's emergency line now.",
    ),
    "damaged_conduit": Danger(
        "The service conduit or cable is broken, rusted through, pulled from the wall or the meter.",
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
}
"""By the names of :data:`reconcile.house.DANGERS`."""

URGENT: Lines = (
    "Stop here: no test, no reading, nothing opened or touched.",
    "Call the utility's emergency line; its number is on the bill and on its web site. It costs nothing to be wrong.",
)
"""What stands before everything where a danger is reported, or found on site."""

SOURCES: tuple[Source, ...] = (
    Source(
        "live parts de-energised unless that is infeasible or a greater hazard; 50 V",
        "29 CFR 1910.333(a)(1)",
        "read second-hand",
    ),
    Source(
        "3 ft 6 in (1.07 m), the limited approach to fixed live parts, 151-750 V row",
        "NFPA 70E Table 130.4(E)(a)",
        "read second-hand",
    ),
    Source(
        "an unqualified person stays outside the limited approach boundary",
        "NFPA 70E 130.4",
        "read second-hand",
    ),
    Source(
        "CAT II receptacles, CAT III panel and fixed wiring, CAT IV service and main",
        "IEC 61010",
        "read second-hand",
    ),
    Source("CAT IV 300 V or better at the main lugs", "from the impulse levels of IEC 61010-2-030", "judgement"),
    Source("insulated tools and protective gear near live parts", "29 CFR 1910.335", "from memory"),
    Source("only the utility breaks a seal", "for example 52 Pa. Code 57.22", "read"),
    Source("never pull or open a meter: arc, explosion, fire", "utility safety pages", "read"),
    Source(
        "order of breakers, one hand, second person, standing to the side",
        "common practice",
        "no published source",
    ),
)


def dangers(names: tuple[str, ...]) -> Lines:
    """Return what each reported sign may mean and what to do, the stop sentence first.

    Parameters
    ----------
    names : tuple of str
        Names from :data:`reconcile.house.DANGERS`.

    Returns
    -------
    tuple of str
        Empty where nothing is reported.

    Examples
    --------
    >>> dangers(("shock",))[0]
    'Stop here: no test, no reading, nothing opened or touched.'
    >>> dangers(())
    ()
    """
    if not names:
        return ()
    said = [DANGER[name] for name in names]
    return (*URGENT, *(f"{d.sign} It may mean: {d.may_mean} {d.do} Call: {d.call}" for d in said))

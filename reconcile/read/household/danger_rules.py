"""What tells of a danger: what is felt beside what it is felt of, in the meanings that ``danger.toml`` gives to words.

A part of a sign names meanings of which one must stand in the same clause, or in one that it goes on from; with ``<``
before what is felt, with ``>`` behind it, with ``~`` anywhere in the sentence.
"""

from __future__ import annotations

LIVE_THINGS = "METER PANEL OUTLET WIRE SERVICE WALL SPLICE"
"""Where heat, smoke, noise and water are never as they should be."""

SIGNS = (
    ("shock", "FELT"),
    ("shock", "SHOCK", "FEEL"),
    ("shock", "SHOCK", "TOUCHED APPLIANCE OUTLET PANEL METER LIGHT", "BEING BODY ACTS"),
    ("shock", "ZAP", "FEEL ACTS BEING BODY TOUCHED APPLIANCE OUTLET PANEL METER WETGROUND"),
    ("shock", "BITE", "TOUCHED APPLIANCE OUTLET PANEL METER LIGHT WETGROUND", "BEING BODY ACTS"),
    ("shock", "CURRENT", "FEEL", "BEING BODY TOUCHED APPLIANCE PANEL ACTS"),
    ("shock", "FLEE", "ANIMAL BODY", "WETGROUND TOUCHED"),
    ("shock", "JUMP", "WETGROUND"),
    ("shock", "NUMB", "TOUCHED APPLIANCE"),
    ("shock", "FRIGHT", "ACTS", "TOUCHED APPLIANCE"),
    ("shock", "CURRENT", "TOUCHED", "ON"),
    ("shock", "STRAY", "TOUCHED GROUND"),
    ("shock", "LIVE", "<TOUCHED APPLIANCE"),
    ("burning_smell", "BURNSMELL"),
    ("burning_smell", "SMELL", "BURN FISHY FIRE SCORCH"),
    ("burning_smell", "SMELL", "HEAT FISH", f"~{LIVE_THINGS}"),
    ("buzzing", "SOUND", "METER PANEL OUTLET SERVICE WALL"),
    ("buzzing", "HUM", "PANEL"),
    ("buzzing", "HUM", "METER", "~FLICKER DIM TRIP"),
    ("buzzing", "HUM", "METER", "LOUD"),
    ("warm_meter", "HEAT HOTTER DEGREES", "METER PANEL"),
    ("sparks_or_scorching", "HEAT HOTTER DEGREES", "OUTLET WIRE WALL"),
    ("sparks_or_scorching", "HOTTER", "CHARGER"),
    ("sparks_or_scorching", "FLASH", "METER PANEL OUTLET SERVICE"),
    ("sparks_or_scorching", "EXPLODED", "METER PANEL OUTLET"),
    ("sparks_or_scorching", "SCORCH FIRE", LIVE_THINGS),
    ("sparks_or_scorching", "MELT FIRE", "APPLIANCE LIGHT"),
    ("sparks_or_scorching", "COOKED", f"<{LIVE_THINGS} SPLICE"),
    ("sparks_or_scorching", "SPARK"),
    ("sparks_or_scorching", "DARK", "METER PANEL OUTLET", "MARKED"),
    ("lights_brighten_and_dim", "BRIGHT", "LIGHT SIDE", "TURN DIM EXTREME"),
    ("lights_brighten_and_dim", "EXTREME", "<LIGHTS", "TURN", "~DIED"),
    ("lights_brighten_and_dim", "BRIGHTEN", "LIGHT"),
    ("lights_brighten_and_dim", "EXPLODE", "<LIGHTS"),
    ("lights_brighten_and_dim", "DIED", "ELECTRONICS", "AT_ONCE LIGHT"),
    ("lights_brighten_and_dim", "WILD_VOLTS HALF_OUT"),
    ("lights_brighten_and_dim", "NEUTRAL", "UNSTABLE"),
    ("water_at_meter", "WET", "METER PANEL SERVICE OUTLET"),
    ("water_at_meter", "LEAKS", "INTO", "LIGHT"),
    ("water_at_meter", "WATER", "MOTION", "METER PANEL SERVICE OUTLET"),
    ("damaged_conduit", "BARE HANG", "WIRE SERVICE METER PANEL"),
    ("damaged_conduit", "BARE", "OUTLET SPLICE"),
    ("damaged_conduit", "GONE", "SPLICE"),
    ("damaged_conduit", "HOLE", "METER PANEL SERVICE"),
    ("damaged_conduit", "SHOWING", "<WIRE"),
    ("damaged_conduit", "BROKEN", "WIRE SERVICE"),
    ("damaged_conduit", "BROKEN GONE", "COVER", "METER PANEL"),
    ("damaged_conduit", "GONE", "COVER", "~WIRE"),
    ("damaged_conduit", "DOWN", "SERVICE"),
    ("damaged_conduit", "LIE", "WIRE", "GROUNDS"),
    ("damaged_conduit", "PULL", "METER PANEL WIRE SERVICE", "AWAY"),
    ("damaged_conduit", "COME", "<WIRE SERVICE", "AWAY"),
    ("damaged_conduit", "OFFWALL", "METER PANEL SERVICE WIRE"),
    ("damaged_conduit", "TREE", "SERVICE", "AGAINST"),
    ("damaged_conduit", "HIT", ">METER SERVICE PANEL"),
    ("damaged_conduit", "UNCOVERED", "METER PANEL OUTLET WIRE"),
)
"""A danger, what is felt of it, and what else must be named beside that."""
DOUBTS = (
    ("gas", "GASSMELL"),
    ("lights", "DIM BRIGHTEN", "<LIGHT"),
    ("lights", "FLICKER", "LIGHT"),
    ("lights", "EXPLODE", "LIGHT", "BEING BODY AGAIN"),
    ("breaker", "NOHOLD", "PANEL OUTLET"),
    ("breaker", "TRIP", "PANEL", "AGAIN REPEAT"),
    ("smell", "SMELL", LIVE_THINGS),
    ("smell", "SMELL", "STRANGE"),
    ("sound", "HUM", "METER PANEL"),
    ("sound", "SOUND", "BOX"),
    ("sound", "NOISE", "METER PANEL OUTLET WALL"),
    ("heat", "WARP", "METER PANEL OUTLET"),
    ("line", "DOWN", "WIRE"),
    ("shock", "FLEE", "~ANIMAL BODY", "~TOUCHED OUTLET"),
    ("smell", "SMELL BURNSMELL", f"~{LIVE_THINGS}"),
    ("heat", "HEAT HOTTER SCORCH FIRE", "~METER PANEL OUTLET WIRE"),
    ("sound", "SOUND HUM NOISE", f"~{LIVE_THINGS}"),
    ("heat", "DARK", "<PANEL OUTLET WIRE"),
    ("water", "WET", "~METER PANEL OUTLET SERVICE"),
    ("broken", "HANG BARE", "~METER PANEL WIRE SERVICE"),
    ("broken", "GONE", "COVER", "~METER PANEL OUTLET WIRE"),
    ("lights", "FLICKER BRIGHT BRIGHTEN DIM", "POWER"),
)
"""What may be a sign, and may not: what to ask about, and what must be named as in :data:`SIGNS`."""

HARMLESS_OF = {
    "HEAT": "WEATHER HOME FOOD HEARTH APPLIANCE TOUCHED VEHICLE GADGET LIGHT BODY ANIMAL",
    "SMELL": "FOOD HEARTH ODOUR",
    "BURNSMELL": "FOOD HEARTH",
    "FIRE": "FOOD HEARTH WEATHER",
    "SCORCH": "FOOD HEARTH BODY",
    "SPARK": "HEARTH GADGET",
    "SOUND": "GADGET HEARTH FOOD ANIMAL",
    "HUM": "GADGET",
    "WET": "HOME WEATHER",
    "SHOCK": "BILL",
    "DARK": "WEATHER HOME",
    "FLASH": "WEATHER HEARTH",
    "BRIGHT": "WEATHER LIGHT",
    "BRIGHTEN": "WEATHER",
    "BROKEN": "",
}
"""Whose own heat, smell or noise it may be."""

DENIED_BY = {
    "shock": "FENCER BILL",
    "burning_smell": "BILL FOOD HEARTH",
    "smell": "BILL FOOD HEARTH",
    "sparks_or_scorching": "FOOD HEARTH",
    "lights_brighten_and_dim": "NEW",
    "lights": "NEW",
}
"""What in the same sentence makes a sign none: a fence that is meant to shock, a dinner, new lamps."""

UNLESS = {
    "shock": "TOUCHED APPLIANCE OUTLET PANEL METER",
    "burning_smell": LIVE_THINGS,
    "smell": LIVE_THINGS,
    "sparks_or_scorching": LIVE_THINGS,
}
"""What makes it one all the same."""

_STAY = "Keep away from it; if so, call the utility's emergency line."
QUESTIONS = {
    "gas": "Does it smell of gas? Switch nothing, go out, and call the gas company.",
    "lights": (
        "Do some lights grow brighter as others dim, or does anything hum, buzz or smell? If so, call the utility's "
        "emergency line: 'possible open neutral'."
    ),
    "breaker": (
        "Is the breaker or the panel hot, or does it smell or buzz? Leave a breaker that trips again off, and ask a "
        "licensed electrician."
    ),
    "smell": f"Does it smell burnt or fishy at the meter, the panel or an outlet? {_STAY}",
    "sound": f"Does something buzz, crackle or sizzle at the meter, the panel or an outlet? {_STAY}",
    "heat": f"Is the meter, the panel, an outlet or a wire hot, melted or scorched? {_STAY}",
    "water": f"Is there water or rust in or under the meter or the panel? {_STAY}",
    "broken": f"Is the meter, its cover or a wire broken, loose or bare? {_STAY}",
    "line": f"Is a wire down, or low enough to reach? {_STAY}",
    "shock": f"Did a person or an animal feel a tingle or a shock? {_STAY}",
}
"""What is asked of a doubtful line, and what to do until it is known."""

"""What the components of a budget are called on screen and in a record."""

from __future__ import annotations

COMPONENTS = {
    "volts": "the voltmeter's limits, on all legs alike",
    "clamp": "the clamp's limits, on all legs alike",
    "plug-in meter": "the plug-in meter's limits",
    "plug-in watts": "the step of the plug-in meter's watts",
    "plug-in kWh": "the step of the plug-in meter's kWh",
    "display": "the step of the meter's display",
    "display scatter": "the scatter of the displays read",
    "count": "counting from somewhere between two counts",
    "timing": "stopping the watch",
    "timing scatter": "the scatter of the timings",
    "readings not together": "readings not taken at one moment",
    "wires": "volts lost between meter and clamp",
    "wires to the receptacle": "volts lost on the way to the receptacle",
    "legs unequal": "how unequal the legs' volts may be",
    "meter form": "how the meter's form takes unequal legs",
    "background reading": "reading what else was on",
    "background drift": "what else may have switched",
    "background's angle": "what else was on, standing at another angle than the load",
    "scatter of repeats": "the scatter of the repeats",
    "sag": "the volts that nobody read under load",
}


def spoken_component(name: str) -> str:
    """Return a component's words; one of a single leg keeps its number.

    Examples
    --------
    >>> spoken_component("clamp position 2")
    "where the wire lay in the clamp's jaws, leg 2"
    >>> spoken_component("timing, run 2"), spoken_component("display at 5.38")
    ('stopping the watch, run 2', "the step of the meter's display at 5.38")
    """
    for mark in (", ", " at "):
        whole, cut, rest = name.partition(mark)
        if cut:
            return f"{spoken_component(whole)}{cut}{rest}"
    stem, _, leg = name.rpartition(" ")
    parts = {
        "volts step": "the step of the volts",
        "amps step": "the step of the amps",
        "clamp position": "where the wire lay in the clamp's jaws",
        "power factor": "the power factor",
    }
    if stem in parts and leg.isdigit():
        return f"{parts[stem]}, leg {leg}"
    return COMPONENTS.get(name, parts.get(name, name))

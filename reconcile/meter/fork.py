"""What a meter that still counts with the main off can mean: what to look at from outside, whom to call.

No branch asks to open or touch anything. The order is that of looking: what is quickly ruled out first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reconcile.house import House

HOURS_A_MONTH = 730.0
"""Hours of a twelfth of a year."""


@dataclass(frozen=True, slots=True)
class Branch:
    """One way in which a meter can count with the main off.

    Attributes
    ----------
    code : str
    may_be : str
        What it may be.
    look : str
        What to look at from outside, touching nothing.
    tells : str
        What the look tells.
    call : str
        Whom to call.
    stop : bool
        Whether it ends the test at once.
    """

    code: str
    may_be: str
    look: str
    tells: str
    call: str
    stop: bool = False


BRANCHES: tuple[Branch, ...] = (
    Branch(
        "not-now",
        "The display may not show the power of now but a demand, an average of a quarter of an hour or "
        "so, or may "
        "lag by a minute.",
        "Watch the pulses, the turning disk or the last digit of the kWh instead, for a quarter of an hour.",
        "If the energy does not grow, nothing flows.",
        "Nobody yet.",
    ),
    Branch(
        "coasting",
        "A disk may coast up to one turn after the load is gone.",
        "Wait until it has stood for five minutes, then time it again.",
        "A disk that stops within one turn is sound.",
        "Nobody yet.",
    ),
    Branch(
        "ahead-of-main",
        "A load or a second disconnect may be fed ahead of the main: a second panel, an air conditioner, a "
        "well, a garage, a car charger, an alarm.",
        "Look for other panels, boxes and breakers beside the meter and outside, and for anything in the "
        "home "
        "that still runs. Leave them as they are; write down what is printed on them.",
        "If something still runs, it is fed from ahead of the main.",
        "A licensed electrician, to say what is fed from where.",
    ),
    Branch(
        "shared-or-wrong-meter",
        "The meter may be another home's, or feed a neighbour's or a common load besides.",
        "Compare the meter's number with the bill. With the main off, ask a neighbour to switch a heater on "
        "and off while you watch the meter.",
        "If the number is not the bill's, or the meter follows the neighbour, the meters are crossed or shared.",
        "The utility's billing desk, with photographs of both numbers.",
    ),
    Branch(
        "own-generation",
        "Solar panels, a battery or a generator may feed back or draw power to keep themselves going.",
        "Look whether an inverter or battery still shows power.",
        "A reading with it on says nothing of the meter.",
        "The installer.",
    ),
    Branch(
        "underground-leak",
        "The service cable may leak to the soil or to its metal conduit between the meter and the panel; "
        "it can also "
        "make the ground or metal nearby live.",
        "From a distance: does the service come out of the ground in metal conduit, is it rusted, wet, "
        "warm to "
        "see by melting snow or dry ground, broken?",
        "A steady reading that nothing in the home explains, with wires underground between meter and panel.",
        "The utility's emergency line. Keep off the wet ground beside it.",
        stop=True,
    ),
    Branch(
        "creep",
        "The meter itself may creep: register with nothing connected.",
        "Time the disk or the pulses for a quarter of an hour: one full turn in five minutes or less is "
        "creep "
        "(52 Pa. Code 57.20); several state rules allow no registration at all.",
        "Steady counting with all the above ruled out.",
        "The utility, for a test of the meter; ask to be present, and check your local rule.",
    ),
)
"""In the order of looking."""


def price_per_kwh(house: House) -> float | None:
    """Return what a kWh costs by the last year's bills, all charges in it; None where no bill says."""
    known = [b for b in house.bills[-12:] if b.amount is not None and b.kwh is not None and b.kwh > 0]
    energy = sum(b.kwh or 0.0 for b in known)
    return float(sum(b.amount or 0 for b in known)) / energy if energy else None


def monthly(watts: float, price: float | None) -> tuple[float, float | None]:
    """Return the kWh a month of a steady power [W], and what they cost where the price is known.

    Examples
    --------
    >>> monthly(100.0, 0.25)
    (73.0, 18.25)
    """
    energy = watts * HOURS_A_MONTH / 1000.0
    return energy, None if price is None else energy * price


def branches(house: House, way: str, *, generation_off: bool | None = None) -> Sequence[Branch]:
    """Return the branches that this house and this way of reading leave open."""
    left = []
    for branch in BRANCHES:
        if branch.code == "not-now" and way != "display":
            continue
        if branch.code == "coasting" and way != "turns":
            continue
        if branch.code == "own-generation" and (not house.generation or generation_off is True):
            continue
        left.append(branch)
    return tuple(left)

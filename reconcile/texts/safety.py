"""Cautions as data: signal word, hazard, consequence, avoidance; and which of them belong to a step of a house.

The signal words are those of ANSI Z535 (Z535.6 for instructions), by how severe the harm may be. Every figure names
its source in :data:`SOURCES`, with whether the source itself was read. Local codes, the utility's rules and licensed
practice come before anything written here. Nothing here permits an unqualified person to open anything.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from reconcile.house import House
from reconcile.kinds import Hazard
from reconcile.texts.danger_signs import DANGER as DANGER
from reconcile.texts.danger_signs import URGENT as URGENT
from reconcile.texts.danger_signs import dangers as dangers

Lines = tuple[str, ...]
Codes = tuple[str, ...]


class Signal(StrEnum):
    """Signal words, the severest first: death or serious injury will, could; a lesser injury could; no injury."""

    DANGER = "DANGER"
    WARNING = "WARNING"
    CAUTION = "CAUTION"
    NOTICE = "NOTICE"


class Reader(StrEnum):
    """Whom a page is for."""

    HOUSEHOLDER = "householder"
    QUALIFIED = "qualified"


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution.

    Attributes
    ----------
    code : str
    signal : Signal
        By the harm that follows where it is not heeded.
    hazard, consequence, avoid : str
        What is there, what it does (with the hazard one sentence), and how to keep out of it.
    """

    code: str
    signal: Signal
    hazard: str
    consequence: str
    avoid: str

    @property
    def text(self) -> str:
        """The caution in one line, signal word first."""
        return f"{self.signal}: {self.sentence}"

    @property
    def sentence(self) -> str:
        """The caution without its signal word."""
        return f"{self.hazard} {self.consequence}. {self.avoid}"


_D, _W, _C, _N = Signal
_ROWS = (
    # --- at the head of a page
    Caution(
        "local-rules", _N, "Local codes and the utility's rules", "may forbid a step",
        "They and licensed practice come before this page.",
    ),
    Caution(
        "covers", _D, "Live parts behind a cover", "kill",
        "Take no cover off: a step that needs it is not yours.",
    ),
    Caution(
        "signs", _D,
        "Heat, buzzing, a burning or fishy smell, water, rust holes, a tingle, lights that brighten as others dim",
        "mean fire or shock", "Stop, keep away, call the utility's emergency line.",
    ),
    Caution(
        "signs-one-phase", _D, "Heat, buzzing, a burning or fishy smell, water, rust holes, a tingle",
        "mean fire or shock", "Stop, keep away, call the utility's emergency line.",
    ),
    Caution(
        "gas", _D, "Leaking gas", "explodes at a spark",
        "At a smell of gas switch nothing, go out, call from there.",
    ),
    # --- looking
    Caution(
        "meter", _D, "A meter that is pulled or opened", "can arc and kill",
        "Touch no meter, ring, seal, conduit or loose wire; they are the utility's.",
    ),
    Caution(
        "ground", _W, "Wet ground, or a ladder near service wires,", "can kill by shock or fall",
        "Stand on dry ground an arm's length away, not in rain; use no ladder; keep children and animals away.",
    ),
    # --- a plug-in meter
    Caution(
        "cord", _W, "A damaged or overloaded outlet, plug-in meter or cord", "can start a fire",
        "Use sound ones within their printed rating; dry hands and floor; no extension cord or adapter.",
    ),
    Caution(
        "plug-heat", _W, "A poor contact, above all on aluminum wiring,", "can start a fire",
        "With aluminum wiring leave this out. Feel the plug after two minutes; warmer than the hand, a smell or a "
        "crackle: switch off, stop.",
    ),
    Caution(
        "heater", _W, "A heater on high", "can set fire to what is near",
        "Keep 3 ft (1 m) clear, children and animals out; two people, so that it is never alone.",
    ),
    # --- breakers, covers on
    Caution(
        "dependents", _W, "Power switched off", "can stop medical equipment, a stair lift or alarms",
        "Ask everyone at home first. If anyone depends on it, switch nothing off: leave this to the utility.",
    ),
    Caution(
        "goods", _N, "A sump pump, well, freezer, aquarium, computer, or heating in frost", "may not wait",
        "Ask, choose the hour, be quick, shut computers down first.",
    ),
    Caution(
        "screwed-cover", _D, "Live parts behind the panel's screwed cover", "kill",
        "Open only the hinged door, to reach the handles; the screwed cover stays on.",
    ),
    Caution(
        "sound-panel", _W, "A wet, rusted, hot, noisy, smelling or worn panel", "can arc, or not close again",
        "Leave it; call an electrician.",
    ),
    Caution(
        "switching", _W, "A failing breaker", "can burn face and hands",
        "Dry hands and floor, shoes, to the side, face away, one hand, a lamp of your own, a second person near.",
    ),
    Caution(
        "main-stays-on", _W, "A main breaker moved under load", "can fail",
        "Leave the main on: this step moves only one branch breaker at a time.",
    ),
    # --- the main breaker
    Caution(
        "line-side", _D, "Wires ahead of the main", "stay live with it off, and kill",
        "Every screwed cover stays on; touch nothing.",
    ),
    Caution(
        "order", _W, "A main breaker moved under load", "can arc or fail",
        "Off: branches one by one, the main last. On: the main first, then the branches.",
    ),
    Caution(
        "backfeed", _D, "A generator, battery, car or solar panel", "can keep parts live with the main off",
        "If there is one, leave this to an electrician.",
    ),
    Caution(
        "own-generation", _D, "This home's own generation or battery", "can keep parts live with the main off",
        "Switch it off first as its maker says; a car or generator too. If unsure, leave this out.",
    ),
    Caution(
        "disconnects", _W, "A second disconnect", "can leave parts live",
        "If you cannot name every one, leave this to an electrician.",
    ),
    Caution(
        "underground", _D, "Counting with the main off, wires underground,", "can mean live soil",
        "Keep off that ground; call the utility's emergency line.",
    ),
    # --- behind a cover: what a householder is told, and the qualified person
    Caution(
        "not-yours", _D, "Live parts behind a cover", "kill",
        "Only a qualified person opens, reads, holds or helps; everyone else stays 3 ft 6 in (1.07 m) away.",
    ),
    Caution(
        "qualified", _D, "Open live parts", "kill",
        "Only persons qualified by local rules open, read, hold or help; others, children and animals stay 3 ft 6 in "
        "(1.07 m) away.",
    ),
    Caution(
        "de-energize", _D, "Live work", "can kill",
        "De-energize, lock out and tag; read live only with reason and permit. Prove the tester on a live source, "
        "test for dead, prove it again.",
    ),
    Caution(
        "line-side-panel", _D, "Line-side wires and the meter socket", "stay live with the main off",
        "No switch here isolates them; the utility's seal stays unbroken.",
    ),
    Caution(
        "backfeed-panel", _D, "Solar, battery, generator or car", "can backfeed",
        "Open and lock out each.",
    ),
    Caution(
        "arc", _D, "Arc flash and shock", "burn and kill",
        "Voltage-rated gloves with leather, eye, face and arc-rated protection by the label and the employer's rules; "
        "no metal worn.",
    ),
    Caution(
        "alone", _D, "Working alone, on a wet floor or a metal ladder,", "can kill",
        "Dry floor or mat, no metal ladder, a second person who can cut power and call.",
    ),
    Caution(
        "category", _D, "An underrated instrument", "can explode",
        "CAT III at branch breakers, CAT IV at main lugs and service wires, at least 300 V; leads sound, in the "
        "right jacks.",
    ),
    Caution(
        "category-600", _D, "An underrated instrument", "can explode",
        "CAT III at branch breakers, CAT IV at main lugs and service wires, at least 600 V; leads sound, in the "
        "right jacks.",
    ),
    Caution(
        "conductors", _D, "A conductor bent, loosened or passed again through the clamp",
        "can break and arc, aluminum above all",
        "Clamp insulated conductors as they lie, once through; disturb no aluminum termination.",
    ),
    Caution(
        "fault-current", _D, "A three-phase supply's fault current", "makes an arc far stronger than in a house",
        "Only persons equipped for it.",
    ),
    Caution(
        "neutral", _D, "Legs that differ clearly in volts under load", "mean a loose neutral: fire",
        "Close up; call the utility's emergency line.",
    ),
)  # fmt: skip
CAUTIONS: dict[str, Caution] = {row.code: row for row in _ROWS}
"""Every caution by its code."""

BREAKERS: Codes = ("dependents", "goods", "screwed-cover", "sound-panel", "switching")
_SEVERITY = list(Signal)
_LEGS_WITH_NEUTRAL = ("split-phase", "network", "three-phase", "unknown")


def first_of_all(house: House, reader: Reader = Reader.HOUSEHOLDER) -> Codes:
    """Return the cautions that stand once, at the head of a page.

    Parameters
    ----------
    house : House
    reader : Reader

    Returns
    -------
    tuple of str
        Codes of :data:`CAUTIONS`.
    """
    signs = "signs" if house.service in _LEGS_WITH_NEUTRAL else "signs-one-phase"
    own = () if reader is Reader.QUALIFIED else ("covers",)
    return _by_severity((*own, signs, "gas", "local-rules"))


def cautions_for(
    hazard: Hazard, house: House, reader: Reader = Reader.HOUSEHOLDER, *, moves_main: bool = False
) -> Codes:
    """Return the cautions of this house that stand before the steps of one hazard, the severest first.

    Parameters
    ----------
    hazard : Hazard
        How near the steps come to live parts.
    house : House
        For its service and its own generation.
    reader : Reader
        Panel work is told in full to a qualified person only; a householder is told to keep away.
    moves_main : bool
        Whether a step at the breakers moves the main.

    Returns
    -------
    tuple of str
        Codes of :data:`CAUTIONS`; empty for paper and for the utility's own work.

    Examples
    --------
    >>> cautions_for(Hazard.LOOK, House("a", ()))
    ('meter', 'ground')
    >>> "main-stays-on" in cautions_for(Hazard.MAIN_BREAKER, House("a", ()))
    True
    >>> cautions_for(Hazard.PANEL, House("a", ()))
    ('not-yours',)
    """
    if hazard is Hazard.LOOK:
        return ("meter", "ground")
    if hazard is Hazard.PLUG_IN:
        return ("cord", "plug-heat", "heater")
    if hazard is Hazard.MAIN_BREAKER and moves_main:
        feeding = "own-generation" if house.generation else "backfeed"
        return _by_severity((*BREAKERS, "line-side", "order", feeding, "disconnects", "underground"))
    if hazard is Hazard.MAIN_BREAKER:
        return _by_severity((*BREAKERS, "main-stays-on"))
    if hazard is Hazard.PANEL:
        return _panel(house) if reader is Reader.QUALIFIED else ("not-yours",)
    return ()


def _panel(house: House) -> Codes:
    wye = house.service in ("network", "three-phase")
    return _by_severity(
        (
            "qualified", "de-energize", "line-side-panel", "backfeed-panel", "arc", "alone",
            "category-600" if house.service == "three-phase" else "category", "conductors",
            *(("fault-current",) if wye else ()),
            *(("neutral",) if house.service in _LEGS_WITH_NEUTRAL else ()),
            "dependents", "goods", "order",
        )
    )  # fmt: skip


def _by_severity(codes: Codes) -> Codes:
    return tuple(sorted(codes, key=lambda code: _SEVERITY.index(CAUTIONS[code].signal)))


def said(codes: Iterable[str]) -> Lines:
    """Return cautions as lines to print, signal word first.

    Examples
    --------
    >>> said(("gas",))
    ('DANGER: Leaking gas explodes at a spark. At a smell of gas switch nothing, go out, call from there.',)
    """
    return tuple(CAUTIONS[code].text for code in codes)


def once(sections: Iterable[Codes]) -> tuple[Codes, ...]:
    """Drop from each section of a page what an earlier section has said.

    Examples
    --------
    >>> once((("meter", "ground"), ("ground", "cord")))
    (('meter', 'ground'), ('cord',))
    """
    seen: set[str] = set()
    kept = []
    for section in sections:
        kept.append(tuple(code for code in section if code not in seen))
        seen.update(section)
    return tuple(kept)


ANY_HOUSE = House("", ())
OUTSIDE_LOOK: Lines = said(cautions_for(Hazard.LOOK, ANY_HOUSE))
PLUG_IN: Lines = said(cautions_for(Hazard.PLUG_IN, ANY_HOUSE))
MAIN_OFF: Lines = said(cautions_for(Hazard.MAIN_BREAKER, ANY_HOUSE, moves_main=True))
QUALIFIED_ONLY: Lines = said(cautions_for(Hazard.PANEL, ANY_HOUSE))
"""Cautions of the ladder of next steps, for any house."""


@dataclass(frozen=True, slots=True)
class Source:
    """Where a figure in a caution comes from, and whether the source itself was read (``status``)."""

    figure: str
    source: str
    status: str


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
    Source(
        "CAT IV 300 V or better at the main lugs, 600 V on 230/400 V",
        "from the impulse levels of IEC 61010-2-030",
        "judgement",
    ),
    Source("insulated tools and protective gear near live parts", "29 CFR 1910.335", "from memory"),
    Source("circuits that are worked on are locked out and tagged", "29 CFR 1910.333(b)(2)", "from memory"),
    Source(
        "signal words DANGER, WARNING, CAUTION, NOTICE by how severe the harm is",
        "ANSI Z535.4 and Z535.6",
        "read second-hand",
    ),
    Source("3 ft (1 m) between a heater and what burns", "common advice of US fire services", "from memory"),
    Source("joints of aluminum branch wiring overheat", "US consumer product safety advice", "from memory"),
    Source("only the utility breaks a seal", "for example 52 Pa. Code 57.22", "read"),
    Source("never pull or open a meter: arc, explosion, fire", "utility safety pages", "read"),
    Source(
        "order of breakers, one hand, second person, standing to the side",
        "common practice",
        "no published source",
    ),
)

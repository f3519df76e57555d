"""Cautions as data: signal word, hazard, consequence, avoidance; and which of them belong to a step of a house.

The signal words are those of ANSI Z535 (Z535.6 for instructions), by how severe the harm may be. Every figure names
its source in :data:`SOURCES`, with whether the source itself was read. Local codes, the utility's rules and licensed
practice come before anything written here. Nothing here permits an unqualified person to open anything.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from reconcile.house import House
from reconcile.kinds import Hazard
from reconcile.records import dataclass
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
    """One caution."""

    code: str
    signal: Signal
    """By the harm that follows where it is not heeded."""
    hazard: str
    consequence: str
    avoid: str
    """All: what is there, what it does (with the hazard one sentence), and how to keep out of it."""

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
        "local-rules", _N, "Local codes, the utility's rules, licensed practice", "may forbid a step", "They come "
        "first.",
    ),
    Caution("covers", _D, "Live parts behind covers", "kill", "Take no cover off."),
    Caution(
        "signs", _D, "Heat, buzzing, a burning or fishy smell, water, rust, a tingle, lights that brighten as others "
        "dim",
        "mean fire or shock", "Stop; call the utility's emergency line.",
    ),
    Caution(
        "signs-one-phase", _D, "Heat, buzzing, a burning or fishy smell, water, rust, a tingle",
        "mean fire or shock", "Stop; call the utility's emergency line.",
    ),
    Caution(
        "gas", _D, "Leaking gas", "explodes at a spark", "If you smell gas switch nothing, go out, then call.",
    ),
    # --- looking
    Caution(
        "meter", _D, "A meter pulled or opened", "arcs and kills",
        "Touch nothing: no meter, ring, seal, conduit or wire.",
    ),
    Caution(
        "ground", _W, "Wet ground and ladders", "can kill",
        "Stand on dry ground at arm's length; no rain, no ladder; children and animals away.",
    ),
    # --- a plug-in meter
    Caution(
        "cord", _W, "A damaged or overloaded outlet, meter or cord", "can start a fire",
        "Sound ones within their rating, dry hands, no extension cord or adapter.",
    ),
    Caution(
        "plug-heat", _W, "Aluminum wiring and poor contacts", "can start a fire",
        "With aluminum leave this out. Plug more than hand-warm, a smell, a crackle: switch off.",
    ),
    Caution(
        "heater", _W, "A heater", "can set fire to what is near",
        "3 ft (1 m) clear; children and animals out; never alone.",
    ),
    # --- breakers, covers on
    Caution(
        "dependents", _W, "Power off", "can stop medical equipment, a stair lift, alarms",
        "Ask everyone; if anyone depends on it, leave this out.",
    ),
    Caution(
        "goods", _N, "A sump pump, well, freezer, aquarium, computer, heating in frost", "cannot wait long",
        "Ask; keep it short. A compressor stays off five minutes.",
    ),
    Caution(
        "screwed-cover", _D, "Live parts behind the screwed cover", "kill",
        "Open only the hinged door; the screwed cover stays on.",
    ),
    Caution(
        "sound-panel", _W, "A wet, rusted, hot, noisy or worn panel", "can arc, or not close again",
        "Leave it to an electrician.",
    ),
    Caution(
        "switching", _W, "A failing breaker", "can burn",
        "Dry hands and floor, shoes, to the side, face away, one hand, a flashlight, somebody near.",
    ),
    Caution(
        "generation-breaker", _D, "The breaker of solar, battery or generator", "is live on both sides",
        "Never move it; use its own switch, or wait for dark.",
    ),
    # --- the main breaker
    Caution("line-side", _D, "Wires ahead of the main", "stay live and kill", "Every screwed cover stays on."),
    Caution("order", _W, "A main moved under load", "can fail", "It goes off last and on first."),
    Caution(
        "backfeed", _W, "Solar, battery, generator or car", "can keep parts live",
        "If there is one, leave this out.",
    ),
    Caution(
        "own-generation", _D, "Own solar, battery, generator or car", "keep parts live",
        "Off first, as the makers say; if unsure, leave this out.",
    ),
    Caution(
        "disconnects", _W, "A second disconnect", "can leave parts live",
        "Know every one, or leave this out.",
    ),
    Caution(
        "underground", _W, "Counting with the main off, wires underground,", "can mean live soil",
        "Keep off it; call the emergency line.",
    ),
    # --- behind a cover: what a householder is told, and the qualified person
    Caution(
        "not-yours", _D, "Live parts behind a cover", "kill",
        "Only a qualified person opens, reads, holds or helps; everyone else stays 3 ft 6 in (1.07 m) away.",
    ),
    Caution(
        "qualified", _D, "Open live parts", "kill",
        "Only qualified persons open, read, hold or help; others, children, animals stay 3 ft 6 in (1.07 m) away.",
    ),
    Caution(
        "de-energize", _W, "Live work", "can kill",
        "De-energize, lock out, tag; read live only with reason and permit. Prove the tester on a live source before "
        "and "
        "after testing for dead.",
    ),
    Caution(
        "line-side-panel", _D, "Line side and meter socket", "stay live with the main off",
        "No switch here isolates them; seals stay unbroken.",
    ),
    Caution(
        "backfeed-panel", _W, "Solar, battery, generator, car", "can backfeed", "Open and lock out each.",
    ),
    Caution(
        "arc", _D, "Arc flash and shock", "burn and kill",
        "Rated gloves with leather, eye, face and arc protection by label and employer's rules; no metal worn.",
    ),
    Caution(
        "alone", _W, "Working alone, wet, or on a metal ladder", "can kill",
        "Dry floor; a second person who can cut power and call.",
    ),
    Caution(
        "category", _W, "An underrated instrument", "can explode",
        "CAT III at branches, CAT IV at main lugs and service wires, 300 V or more; sound leads, right jacks.",
    ),
    Caution(
        "category-600", _W, "An underrated instrument", "can explode",
        "CAT III at branches, CAT IV at main lugs and service wires, 600 V or more; sound leads, right jacks.",
    ),
    Caution(
        "conductors", _W, "A conductor bent, loosened or passed repeatedly through a clamp", "can break and arc",
        "Clamp insulated ones as they lie, once through; disturb no aluminum termination.",
    ),
    Caution(
        "fault-current", _D, "A three-phase supply", "feeds a far stronger arc", "Only persons equipped for it.",
    ),
    Caution(
        "neutral", _D, "Legs over 5 % apart in volts under load", "mean a loose neutral: fire",
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
    >>> "order" in cautions_for(Hazard.MAIN_BREAKER, House("a", ()), moves_main=True)
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
        return _by_severity((*BREAKERS, *(("generation-breaker",) if house.generation else ())))
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
        )
    )  # fmt: skip


def _by_severity(codes: Codes) -> Codes:
    return tuple(sorted(codes, key=lambda code: _SEVERITY.index(CAUTIONS[code].signal)))


def said(codes: Iterable[str]) -> Lines:
    """Return cautions as lines to print, signal word first.

    Examples
    --------
    >>> said(("gas",))
    ('DANGER: Leaking gas explodes at a spark. If you smell gas switch nothing, go out, then call.',)
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

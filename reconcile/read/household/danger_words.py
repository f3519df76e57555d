"""Words of danger in a household's own lines: a shock, a burning smell, a meter that is warm, sparks.

A narrow grammar of plain English: each word is put into one group, and a sign is a short run of groups, such as a place
and a sound with none but small words between them. What is denied, only feared or repaired is told apart.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

LONGEST = 2000
"""Letters of a text that are looked through (a guard)."""
DENIED_WITHIN = 5
"""Words before a sign in which a ``no`` or ``not`` of the same clause denies it (our choice)."""

_PHRASES = {
    "HARMLESS": r"hot ?water(?: (?:heater|tank|tap)s?)?|water heaters?|hot tubs?|hot ?plates?|"
    r"outlet (?:malls?|stores?)|"
    r"(?:solar|pv|radiant|wall|control|touch|heater|heat|heating) panels?|panel heaters?|heat(?:ing)? (?:cable|tape)s?|"
    r"(?:water|gas|parking|oil|flow) meters?|spark ?plugs?|sparks?,? (?:nv|nevada)|"
    r"spark(?:s|ed|ing)? (?:interest|debate|joy|an?|the)|(?:fire|smoke|co) (?:alarm|detector)s?|"
    r"(?:bill|sticker|price|rate|pool|static|after|thermal|culture)[ -]?shocks?|"
    r"shock(?:s|ed|ing)? (?:treatment|absorbers?|collars?|value|wave|(?:the )?(?:pool|spa|well))|arc[ -]?fault|"
    r"burn(?:ed|t|s|ing)?[ -]out|(?:warm|hot) (?:white|bulbs?|weather|days?|spell|summer|months?|season|air|climate)|"
    r"plug[ -]?ins?|smart plugs?|(?:doorbell|phone) buzz\w*|buzz ?cut|live in|new (?:lights|lamps|bulbs)|"
    r"switch(?:ed)? (?:on|off|to)|no (?:idea|doubt|matter|wonder)|do not know|don t know|"
    r"not (?:only|just|sure|good|normal|right|ok|okay|safe|fine|nice)",
    "PANEL": r"load cent(?:er|re)s?|consumer units?|(?:fuse|breaker|meter|disconnect) ?box(?:es)?|main switch|"
    r"(?:meter|breaker) (?:base|socket|can|pan|cabinet|housing|cover|panel)s?|panel ?(?:board|box)",
    "OUTLET": r"(?:power|plug) strips?|(?:light|wall) switch(?:es)?|(?:extension|power) cords?|"
    r"(?:junction|outlet) ?box(?:es)?|(?:in|inside|behind|from) (?:the|an?|our|my) walls?",
    "SERVICE": r"service (?:drop|cable|entrance|line|wire|mast|conduit)s?|weather ?heads?",
    "TOUCHED": r"washing machines?|bath ?tubs?",
    "HALF_OUT": r"half (?:of )?(?:the |our |my )?(?:house|home|lights|outlets) (?:lost|has no|had no|without|no) power|"
    r"power (?:is |was |went )?(?:out|off|lost) in half (?:of )?(?:the |our |my )?(?:house|home)",
    "FIXED": r"dealt with|taken care of|took care of|put right|all clear",
    "FEARED": r"in case|call when|(?:danger|risks?) of|should (?:you|it|there)|report (?:any|if)",
    "STILL": r"not yet|for now|by itself",
    "SMALL": r"if (?:i|we|he|she|anyone|someone)",
    "AND": r"and|then|, (?:and )?(?:then |now )?(?:it|which|that)|, now",
}
"""Runs of words that count as one word of a group."""

_WORDS = {
    "PANEL": "meter meters panel panels breaker breakers fusebox fuse fuses switchboard subpanel disconnect",
    "OUTLET": (
        "outlet outlets socket sockets receptacle receptacles plug plugs switch switches cord cords cable cables wire "
        "wires wiring"
    ),
    "DEVICE": "charger chargers adapter adapters",
    "SERVICE": "conduit weatherhead mast",
    "TOUCHED": (
        "touch touched touching tap taps faucet faucets shower bath washer dryer fridge refrigerator freezer metal "
        "sink stove oven range dishwasher microwave pump pool ground railing fence gutter heater furnace lamp toaster "
        "kettle appliance appliances machine pipe pipes"
    ),
    "BUZZ": (
        "buzz buzzes buzzed buzzing crackle crackles crackled crackling sizzle sizzles sizzled sizzling arc arcs arced "
        "arcing hiss hisses hissed hissing fizz fizzes fizzing"
    ),
    "HUM": "hum hums humming hummed",
    "WARM": "warm warmer hot hotter overheat overheats overheated overheating",
    "SPARK": "spark",
    "SPARKS": "sparks sparked sparking",
    "MARK": (
        "melt melts melted melting scorch scorched charred singed blackened smoke smokes smoked smoking flame flames "
        "glow glows glowed glowing"
    ),
    "BURNT": "burn burns burnt burned burning",
    "SMELL": "smell smells smelled smelt smelling smelly odor odour stench reek reeks",
    "FISHY": "fishy acrid ozone",
    "GAS": "gas propane",
    "FULL": "full filled",
    "STUFF": "plastic rubber insulation hair fish",
    "FOOD": (
        "toast dinner cook cooked cooking cookies food cake candle candles incense fireplace woodstove wood logs "
        "leaves brush campfire grill bbq barbecue wildfire wildfires trash weld welding grinder"
    ),
    "SHOCK": "shock shocks shocked shocking",
    "ZAP": "zap zaps zapped jolt jolts tingle tingles tingled tingling electrocuted electrified",
    "GIVE": "got get gets getting had felt feel feels feeling received give gives gave giving suffered took",
    "PERSON": (
        "me us him her them everyone people anyone somebody someone wife husband son daughter kid kids child children "
        "dog cat mother father mom dad guest"
    ),
    "LIGHT": "lights lamps bulbs lighting",
    "DIM": (
        "flicker flickers flickered flickering dim dims dimmed dimming pulse pulsing surge surges surged surging flash "
        "flashes flashing"
    ),
    "CHANGE": "go goes went going grow grows grew turn turns turned become becomes became come comes came coming",
    "BRIGHT": "bright brighter",
    "BRIGHTEN": "brighten brightens brightened brightening",
    "WATER": "water rain rainwater moisture rust corrosion",
    "WET": "wet soaked rusty rusted rusting corroded flooded",
    "LEAK": "leak leaks leaking leaked drip drips dripping running",
    "INTO": "in inside into under on through",
    "BROKEN": "broken broke damaged torn ripped cracked bent fell snapped",
    "LOOSE": "loose hanging pulled sagging",
    "BARE": "bare exposed frayed chewed live",
    "NOT": "no not never without nor neither nobody nothing none isn wasn aren weren doesn didn don hasn haven",
    "FEARED": "if whether unless avoid prevent beware",
    "FIXED": "fixed repaired replaced resolved solved rewired tightened",
    "STILL": "still again yet however continues",
    "LATER": "need needs must should will to want wants asked ask wait waiting until before tomorrow soon",
    "BILL": (
        "bill bills price prices cost costs rate rates invoice invoices amount amounts statement statements dollar "
        "dollars total charge charges increase usage kwh consumption use"
    ),
    "NEW": "installed bulb led leds upgraded changed swapped bought sun",
    "BREAK": ", ; : ( ) but so while because since though",
    "STOP": ".",
    "ROOM": (
        "electric electrical electricity main service smart utility hydro power light wall kitchen bathroom garage "
        "basement laundry bedroom room hall living front back"
    ),
    "SMALL": (
        "i we he she they you is was are were be been being has have seems seem makes make made making sounds sound or "
        "a an the it its that which there very really too quite bit little lot slightly rather now always often "
        "sometimes also starts start started keeps kept keep of at off out up from outside near nearby next by beside "
        "around behind like some any something this my our your box door cover side noise noises loud loudly strange "
        "weird odd faint faintly slight constant strong strongly blue small big mild minor nasty tiny painful bad real "
        "quick few several another old new one two both pretty even just hear heard see saw seen notice noticed onto "
        "trips tripped tripping with when mark marks where after time times every each day night evening others other "
        "half"
    ),
}
"""The words of each group; any other word belongs to none."""

_ANY_OF = {
    "PLACE": ("PANEL", "OUTLET"),
    "TOUCH": ("TOUCHED", "PANEL", "OUTLET", "DEVICE"),
    "SCORCH": ("MARK", "BURNT", "SPARK", "SPARKS"),
    "TURN": ("CHANGE", "GIVE"),
    "OFF": ("BROKEN", "LOOSE"),
    "MELTED": ("MARK", "WARM", "BURNT"),
}
_BETWEEN = "SMALL ROOM GIVE PERSON INTO CHANGE BUZZ HUM WARM MARK SPARK SPARKS BURNT SMELL DIM AND LATER STILL"
"""What may stand between the two words of a sign."""
_BEHIND = "SMALL GIVE INTO CHANGE BREAK STOP AND BUZZ SMELL STILL LATER FIXED"
"""What may follow ``warm``: before a thing it says that the thing is warm."""
_MOST_BETWEEN = 8

_RULES = (
    ("shock", "GIVE gap SHOCK"),
    ("shock", "GIVE gap ZAP"),
    ("shock", "ZAP PERSON"),
    ("shock", "SHOCK PERSON gap TOUCH"),
    ("shock", "SHOCK gap TOUCH"),
    ("shock", "ZAP gap TOUCH"),
    ("shock", "TOUCH gap SHOCK PERSON"),
    ("shock", "TOUCH gap ZAP"),
    ("burning_smell", "BURNT gap STUFF? OUTLET? SMELL"),
    ("burning_smell", "SMELL gap STUFF? BURNT"),
    ("burning_smell", "SMELL gap MELTED STUFF"),
    ("burning_smell", "MELTED STUFF SMELL"),
    ("burning_smell", "WARM SMELL gap PLACE"),
    ("burning_smell", "FISHY SMELL"),
    ("burning_smell", "MARK SMELL"),
    ("burning_smell", "SMELL gap MARK gap PLACE"),
    ("burning_smell", "SMELL gap FISHY gap PLACE"),
    ("burning_smell", "PLACE gap SMELL gap FISHY"),
    ("burning_smell", "PLACE gap SMELL gap STUFF"),
    ("buzzing", "PLACE gap BUZZ"),
    ("buzzing", "BUZZ gap PLACE"),
    ("warm_meter", "PANEL gap WARM end"),
    ("warm_meter", "WARM PANEL"),
    ("sparks_or_scorching", "OUTLET gap WARM end"),
    ("sparks_or_scorching", "WARM OUTLET"),
    ("sparks_or_scorching", "PLACE gap SCORCH"),
    ("sparks_or_scorching", "DEVICE gap SCORCH"),
    ("sparks_or_scorching", "SCORCH gap TOUCHED? PLACE"),
    ("sparks_or_scorching", "SPARKS"),
    ("lights_brighten_and_dim", "LIGHT gap TURN gap BRIGHT"),
    ("lights_brighten_and_dim", "LIGHT gap BRIGHTEN"),
    ("lights_brighten_and_dim", "BRIGHTEN gap LIGHT"),
    ("lights_brighten_and_dim", "HALF_OUT BREAK? gap BRIGHT"),
    ("lights_brighten_and_dim", "LIGHT gap DIM gap BRIGHT"),
    ("lights_brighten_and_dim", "LIGHT gap BRIGHT gap DIM"),
    ("water_at_meter", "WATER gap INTO gap PANEL"),
    ("water_at_meter", "WATER gap LEAK gap PANEL"),
    ("water_at_meter", "LEAK gap INTO gap PANEL"),
    ("water_at_meter", "PANEL gap WET"),
    ("water_at_meter", "PANEL gap FULL SMALL? WATER"),
    ("damaged_conduit", "SERVICE gap OFF"),
    ("damaged_conduit", "OFF gap SERVICE"),
    ("damaged_conduit", "PANEL gap LOOSE"),
    ("damaged_conduit", "BARE gap OUTLET"),
    (None, "HALF_OUT"),
    (None, "LIGHT gap DIM"),
    (None, "PANEL gap HUM"),
    (None, "HUM gap PANEL"),
    (None, "SMELL gap GAS"),
    (None, "GAS gap SMELL"),
    (None, "PLACE gap SMELL"),
    (None, "SMELL gap PLACE"),
)
"""Each sign and a run of groups that tells of it; none where it may be a sign, and may not."""


class State(StrEnum):
    """What a line says of a sign: it is there, it was dealt with, or it may be one."""

    THERE = "there"
    OVER = "over"
    DOUBTFUL = "doubtful"


@dataclass(frozen=True, slots=True)
class Sign:
    """A sign of danger in a line; ``name`` is one of :data:`reconcile.house.DANGERS`, None where it is doubtful."""

    name: str | None
    state: State


def signs_in(text: str) -> tuple[Sign, ...]:
    """Return the signs of danger that a line tells of, each once.

    Examples
    --------
    >>> [(sign.name, sign.state.value) for sign in signs_in("meter box buzzes and smells burnt")]
    [('burning_smell', 'there'), ('buzzing', 'there')]
    >>> signs_in("no burning smell; hot water heater replaced"), signs_in("shocked by the bill")
    ((), ())
    >>> signs_in("The outlet sparked. Electrician replaced it.")
    (Sign(name='sparks_or_scorching', state=<State.OVER: 'over'>),)
    """
    tokens = _tokens(text[:LONGEST])
    letters = "".join(letter for letter, _ in tokens)
    if not _TELLING.search(letters):
        return ()
    found: dict[str | None, set[State]] = {}
    for name, pattern in _patterns():
        for match in pattern.finditer(letters):
            if _is_said(tokens, letters, match.start(), match.end(), name):
                state = State.OVER if _is_over(tokens, letters, match.start(), match.end()) else State.THERE
                found.setdefault(name, set()).add(State.DOUBTFUL if name is None and state is State.THERE else state)
    doubt = {State.DOUBTFUL} & found.pop(None, set())
    told = [Sign(name, State.THERE if State.THERE in states else State.OVER) for name, states in found.items()]
    return tuple(told) or tuple(Sign(None, state) for state in doubt)


_GROUPS = list(dict.fromkeys((*_PHRASES, *_WORDS, "NONE")))
_LETTER = {group: chr(0x4E00 + at) for at, group in enumerate(_GROUPS)}
_GROUP_OF = {word: _LETTER[group] for group, words in reversed(_WORDS.items()) for word in words.split()}
_PHRASE = re.compile("|".join(rf"(?P<{group}>\b(?:{words})\b)" for group, words in _PHRASES.items()))
_WORD = re.compile(r"[a-z]+|[,;:().]")


def _any(*groups: str) -> str:
    return "[" + "".join(_LETTER[group] for group in groups) + "]"


def _pattern(rule: str) -> re.Pattern[str]:
    gap = f"{_any(*_BETWEEN.split())}{{0,{_MOST_BETWEEN}}}?"
    end = f"(?=$|{_any(*_BEHIND.split())})"
    parts = []
    for word in rule.split():
        bare = word.removesuffix("?")
        again = word[len(bare) :]
        parts.append({"gap": gap, "end": end}.get(word) or _any(*_ANY_OF.get(bare, (bare,))) + again)
    return re.compile("".join(parts))


@cache
def _patterns() -> tuple[tuple[str | None, re.Pattern[str]], ...]:
    """Each sign with its pattern, made where the first line may tell of one."""
    return tuple((name, _pattern(rule)) for name, rule in _RULES)


_TELLING = re.compile(
    _any(
        *("BUZZ", "HUM", "WARM", "SPARK", "SPARKS", "MARK", "BURNT", "SMELL", "SHOCK", "ZAP", "BRIGHT", "BRIGHTEN"),
        *("DIM", "WET", "LEAK", "WATER", "BROKEN", "LOOSE", "BARE", "HALF_OUT"),
    )
)
_BREAKS = re.compile(_any("BREAK", "STOP", "AND"))
_WAITS = re.compile(_any("LATER", "NOT", "FEARED"))
_ELECTRICAL = re.compile(_any("PANEL", "OUTLET", "SERVICE", "TOUCHED", "DEVICE", "BUZZ", "SMELL", "LIGHT", "LOOSE"))
_ARTICLES = ("the", "a", "an", "my", "our")


def _tokens(text: str) -> list[tuple[str, str]]:
    """Return each word with the letter of its group; a dash that stands alone, and a line's end, divide as a stop."""
    plain = re.sub(r"[\r\n!?]|(?<!\d)\.(?!\d)|(?<=\s)[-\u2013\u2014](?=\s)", " . ", text.casefold())
    plain = re.sub(r"['\u2019`]", " ", plain)
    plain = re.sub(r"\s+", " ", plain)
    out: list[tuple[str, str]] = []
    at = 0
    for match in (*_PHRASE.finditer(plain), None):
        upto = len(plain) if match is None else match.start()
        out += [(_GROUP_OF.get(word, _LETTER["NONE"]), word) for word in _WORD.findall(plain[at:upto])]
        if match is not None:
            out.append((_LETTER[str(match.lastgroup)], match[0]))
            at = match.end()
    return out


def _is_said(tokens: list[tuple[str, str]], letters: str, start: int, end: int, name: str | None) -> bool:
    """Whether a run is said of the house: not denied, not feared, and not of a bill, a dinner or new lamps."""
    stop = _LETTER["STOP"]
    first = letters.rfind(stop, 0, start) + 1
    after = letters.find(stop, end)
    sentence = letters[first : len(letters) if after < 0 else after]
    clause = max((match.end() for match in _BREAKS.finditer(letters, first, start)), default=first)
    if (
        _LETTER["NOT"] in letters[max(clause, start - DENIED_WITHIN) : start]
        or _LETTER["FEARED"] in letters[first:start]
    ):
        return False
    if name == "sparks_or_scorching" and _LETTER["SMELL"] in letters[start:end]:
        return False  # a burning smell at the meter is a sign of its own
    has = {group for group in (*_WORDS, *_PHRASES) if _LETTER[group] in sentence}
    if name == "shock":
        return "BILL" not in has or bool(has & {*_ANY_OF["TOUCH"]})
    if name in ("burning_smell", "sparks_or_scorching"):
        return "FOOD" not in has or bool(has & {*_ANY_OF["PLACE"]})
    return name != "lights_brighten_and_dim" or "NEW" not in has


def _is_over(tokens: list[tuple[str, str]], letters: str, start: int, end: int) -> bool:
    """Whether a line says that a sign was dealt with: repaired before it or behind it, and nothing still there."""
    if _LETTER["STILL"] in letters:
        return False
    fixed = _LETTER["FIXED"]
    clause = max((match.end() for match in _BREAKS.finditer(letters, 0, start)), default=0)
    before = letters.find(fixed, max(clause, start - DENIED_WITHIN), start)
    before = -1 if _BREAKS.search(letters, start, end) else before  # replaced the meter, and it buzzes
    places = [at for at in (before, *range(end, len(letters))) if at >= 0 and letters[at] == fixed]
    return any(not _WAITS.search(letters, max(at - 4, 0), at) and _of_it(tokens, letters, at) for at in places)


def _of_it(tokens: list[tuple[str, str]], letters: str, at: int) -> bool:
    """Whether what was repaired may be what the sign was at: ``fixed the fence`` is not."""
    following = [word for _, word in tokens[at + 1 : at + 2]]
    return following not in [[word] for word in _ARTICLES] or bool(_ELECTRICAL.search(letters, at, at + 6))

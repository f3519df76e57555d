"""Watts and hours as people write them down: ``LED 9W``, ``2x60W``, ``1/2 hp``, ``~200``, ``120V 5A``, ``6pm-10pm``."""

from __future__ import annotations

import re

from reconcile.records import dataclass

_NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
COUNTS = {
    **{word: n for n, word in enumerate(_NUMBERS, start=1)},
    "a dozen": 12,
    "dozen": 12,
    "a couple": 2,
    "couple": 2,
    "a pair": 2,
    "pair": 2,
}
LONGEST = 60
"""Characters of a size in which words are looked for (a guard)."""
UNKNOWN = re.compile(
    r"\?+|-+|unknown|unk\.?|(?:i )?(?:do ?n[o']?t|dont|don't) know|not (?:sure|known)|no idea|idk|dunno|tb[dc]|varies|"
    r"variable|depends|auto(?:matic)?|thermostat|as needed|when needed|sometimes|rarely|seldom|occasionally|n/?a",
    re.IGNORECASE,
)
"""Words for a size or hours that nobody knows: the handbook's are taken, and told."""
NEVER = re.compile(r"never|not used|unused|off|none", re.IGNORECASE)

_DOUBT_BEFORE = re.compile(
    r"(?:[~\N{ALMOST EQUAL TO}\N{ASYMPTOTICALLY EQUAL TO}]|about|approx(?:\.|imately)?|around|roughly|circa|c(?:a)?\.|"
    r"maybe|probably|perhaps|guess(?:ing)?|say|est(?:\.|imate(?:d)?)?)\s*:?\s*(?=[\d.]|half|quarter)",
    re.IGNORECASE,
)
_DOUBT_BEHIND = re.compile(
    r"\s*(?:\?+|\((?:guess|est\.?|estimate|estimated|approx\.?|maybe|\?)\)|est\.?\??|estimate(?:d)?|"
    r"approx(?:\.|imately)?|-?ish|or so|maybe|(?:i )?guess(?:ed)?|i think|\+/-|more or less)$",
    re.IGNORECASE,
)
_EACH = re.compile(
    r"\s*(?:,\s*)?\(?\b(?:each|ea\.?|apiece|a piece|per (?:unit|lamp|bulb|light|fan|piece))\)?$", re.IGNORECASE
)
_PLATE = re.compile(
    r"^(?:max(?:imum|\.)?|up to|rated(?: at)?|nominal|nameplate|label)\s*:?\s+(?=\d)|"
    r"\s+(?:max(?:imum|\.)?|rated|nominal|nameplate|input|when (?:on|running)|running|on high)$",
    re.IGNORECASE,
)
_TOTAL = re.compile(
    r"\s*\(?\b(?:in )?(?:total|together|altogether|combined|in all|all together)\)?$|^total\s*:?\s*(?=\d)",
    re.IGNORECASE,
)
_UNIT = r"(?:k?w|k?watts?|kilowatts?|hp|horse ?power|tons?|k?btus?(?:\s*/\s*hr?|h)?)"
_TIMES = re.compile(
    rf"(\d{{1,3}})\s*(?:x|\N{{MULTIPLICATION SIGN}}|\*|@)\s*(\d+(?:\.\d+)?\s*{_UNIT})\.?|"
    rf"(\d+(?:\.\d+)?\s*{_UNIT})\s*(?:x|\N{{MULTIPLICATION SIGN}}|\*)\s*(\d{{1,3}})",
    re.IGNORECASE,
)
_EQUIVALENT = re.compile(rf"\(?\s*\d+(?:\.\d+)?\s*{_UNIT}?[\s-]*(?:equiv(?:alent|\.)?|eq\.)\s*\)?", re.IGNORECASE)
_SIZE_IN_WORDS = re.compile(rf"(?<![\w.,/+-])(\d+(?:[.,]\d+)?\s*{_UNIT})(?!\w)", re.IGNORECASE)
_COUNTED = re.compile(rf"^({'|'.join(_NUMBERS)})\s+(?:x\s*)?(?=\d)", re.IGNORECASE)
_VOLTS = re.compile(r"(?<![\w.])(\d{2,3}(?:\.\d+)?)\s*(?:v|volts?)(?:\s*(?:ac|dc))?(?![\w])", re.IGNORECASE)
_AMPS = re.compile(r"(?<![\w.])(\d{1,3}(?:\.\d+)?)\s*(?:a|amps?|amperes?)(?![\w])", re.IGNORECASE)
_ASIDE = re.compile(r"stand-?by|idle|sleep|\boff\b|phantom|saves?\b|less", re.IGNORECASE)
"""Words that make a size another thing than what is drawn while on."""
_FRACTION = re.compile(
    r"(?:(\d{1,2})(?:\s+|\s*-\s*|\s+and\s+))?(\d)\s*[/\N{FRACTION SLASH}]\s*([2-8])(?=\s*[a-z])", re.IGNORECASE
)
_FRACTION_OF_HOURS = re.compile(
    r"(?<![\w./])(?:(\d{1,2})(?:\s+|\s*-\s*|\s+and\s+))?"
    r"(\d)\s*[/\N{FRACTION SLASH}]\s*([2-8])(?=\s*(?:h|hrs?|hours?)\b)",
    re.IGNORECASE,
)
_AND_MINUTES = re.compile(
    r"(?<![\w./])(\d{1,2})\s*(?:h|hrs?|hours?)\s*(?:and\s*)?(\d{1,2})\s*(?:min|mins|minutes)\b", re.IGNORECASE
)
_HALF_HOURS = re.compile(r"(?<![\w./])(\d{1,2}) and a half(?=\s*(?:h|hrs?|hours?)\b)", re.IGNORECASE)
_WORDED = {"a half": 0.5, "half a": 0.5, "half": 0.5, "a quarter": 0.25, "quarter": 0.25, "three quarter": 0.75}
_WORDED_FRACTION = re.compile(
    r"^(half a|a half|half|a quarter|quarter|three quarters?)[ -]+(?:an? )?(?=[a-z])", re.IGNORECASE
)
_SIGNS = str.maketrans(
    {"\N{VULGAR FRACTION ONE HALF}": " 1/2", "\N{VULGAR FRACTION ONE QUARTER}": " 1/4",
     "\N{VULGAR FRACTION THREE QUARTERS}": " 3/4", "\N{VULGAR FRACTION ONE THIRD}": " 1/3"}
)  # fmt: skip

_CLOCKS = re.compile(
    r"(?:from )?(\d{1,2})(?::(\d\d))?\s*([ap])?\.?m?\.?\s*(?:-|\N{EN DASH}|to|until|till)\s*"
    r"(\d{1,2})(?::(\d\d))?\s*([ap])?\.?m?\.?",
    re.IGNORECASE,
)
_HOURS_MINUTES = re.compile(r"(\d{1,2})\s*(?:h|hrs?|hours?|:)\s*(\d{1,2})\s*(?:m|min|mins|minutes)?", re.IGNORECASE)
_UNIT_OF_TIME = r"(?P<unit>h|hrs?|hours?|m|min|mins|minutes)?\.?"
_OFTEN = re.compile(
    rf"(?P<hours>\d+(?:\.\d+)?)\s*{_UNIT_OF_TIME}\s*,?\s*(?:/|per|a|an|each|every|x)?\s*"
    r"(?P<per>days?|daily|nights?|nightly|evenings?|week|weekly|wk|month|monthly|mo|d)\.?",
    re.IGNORECASE,
)
PART_OF_WEEK = (
    r"(?:(?:on|at|over|every|each) )?(?:the )?(?:week ?days?|week ?ends?|mon(?:day)?\s*(?:-|to|through)\s*fri(?:day)?)"
)
"""Five days of a week, or two."""
_ON_DAYS = re.compile(rf"(?P<hours>\d+(?:\.\d+)?)\s*{_UNIT_OF_TIME}\s*,?\s*(?:a day )?{PART_OF_WEEK}", re.IGNORECASE)
_TIMES_A_WEEK = re.compile(
    rf"(?:(?P<times>\d+)\s*(?:x|times)|(?P<word>once|twice))\s*(?:/|a|per|each)?\s*(?P<per>day|week|wk|month)\s*"
    rf"(?:,|for|-|x|at|@|\()?\s*(?P<hours>\d+(?:\.\d+)?)\s*{_UNIT_OF_TIME}(?:\s*each)?\)?",
    re.IGNORECASE,
)
_THEN_TIMES = re.compile(
    rf"(?P<hours>\d+(?:\.\d+)?)\s*{_UNIT_OF_TIME}\s*,?\s*(?:(?P<times>\d+)\s*(?:x|times)|(?P<word>once|twice))\s*"
    r"(?:/|a|per|each|every)?\s*(?P<per>day|week|wk|month)",
    re.IGNORECASE,
)
_DAYS = {"d": 1.0, "w": 7.0, "m": 365.25 / 12.0, "n": 1.0, "e": 1.0}


@dataclass(frozen=True, slots=True)
class Size:
    """A size as the reader of quantities takes it."""

    text: str
    times: float = 1.0
    """How many of it the text tells, as ``2x60W``."""
    together: bool = False
    """Whether it is of all that are counted."""
    guessed: bool = False


def size_of(written: str) -> Size | None:
    """Return a size in the plain form; None where nothing has to be done, or nothing can be.

    Examples
    --------
    >>> size_of("LED 9W").text, size_of("1/2 hp").text, size_of("~200").guessed, size_of("120V 5A").text
    ('9W', '0.5 hp', True, '5 A * 120 V')
    >>> size_of("2x60W").times, size_of("60W equivalent"), size_of("1500 W")
    (2.0, None, None)
    """
    text, guessed = _without_doubt(" ".join(written.translate(_SIGNS).split()))
    if len(written) > LONGEST:
        return None
    together = _TOTAL.search(text) is not None
    text = _PLATE.sub("", _EACH.sub("", _TOTAL.sub("", text))).strip()
    if _EQUIVALENT.search(text):
        text = _EQUIVALENT.sub(" ", text).strip(" ,-")
    text = _decimal_fraction(_COUNTED.sub(lambda word: f"{COUNTS[word[1].casefold()]} x ", text))
    times = _TIMES.search(text)
    if times is not None and re.search(r"\d", text.replace(times[0], "", 1)):
        times = None
    volts, amps = _VOLTS.findall(text), _AMPS.findall(text)
    number = 1.0
    if times is not None:
        number, text = float(times[1] or times[4]), (times[2] or times[3])
    elif len(volts) == len(amps) == 1 and not re.search(r"watt|\dw|k?va\b", text, re.IGNORECASE):
        text = f"{amps[0]} A * {volts[0]} V"
    elif len(sizes := _SIZE_IN_WORDS.findall(text)) == 1 and not re.search(r"\d", text.replace(sizes[0], "", 1)):
        behind = text[text.index(sizes[0]) + len(sizes[0]) :]
        if not re.match(r"\s*(?:[*/^+-]|to\b|s?eer|per\b)", behind, re.IGNORECASE) and not _ASIDE.search(text):
            text = sizes[0]
    if not re.search(r"\d", text):
        return None
    found = Size(text, number, together, guessed)
    return None if found == Size(written.strip()) else found


def is_of_light(written: str) -> bool:
    """Whether a size is only the light of another lamp, as ``60W equivalent``."""
    return len(written) <= LONGEST and _EQUIVALENT.search(written) is not None


def _without_doubt(text: str) -> tuple[str, bool]:
    bare = _DOUBT_BEHIND.sub("", _DOUBT_BEFORE.sub("", text, count=1)).strip()
    return bare, bare != text


def _decimal_fraction(text: str) -> str:
    """Write ``1 1/2 hp`` and ``half ton`` with a point."""
    word = _WORDED_FRACTION.match(text)
    if word is not None:
        return f"{_WORDED[word[1].casefold().removesuffix('s')]:g} {text[word.end() :]}"
    found = _FRACTION.match(text)
    if found is None:
        return text
    return f"{int(found[1] or 0) + int(found[2]) / int(found[3]):.4g} {text[found.end() :].strip()}"


def with_decimals(text: str) -> str:
    """Return a text with fractions of hours as decimals.

    >>> with_decimals("sander 900W 2 1/2 hours"), with_decimals("1/2 hp pump 1 and a half hrs")
    ('sander 900W 2.5 hours', '1/2 hp pump 1.5 hrs')
    >>> with_decimals("kiln 1 h 30 min a week")
    'kiln 1.5 h a week'
    """
    text = _HALF_HOURS.sub(lambda found: f"{found[1]}.5", text.translate(_SIGNS))
    text = _AND_MINUTES.sub(lambda found: f"{int(found[1]) + int(found[2]) / 60.0:.4g} h", text)
    return _FRACTION_OF_HOURS.sub(lambda found: f"{int(found[1] or 0) + int(found[2]) / int(found[3]):.4g}", text)


def hours_of(written: str) -> float | None:
    """Return hours a day; None where a text is no such thing, or in a form that is read elsewhere.

    Examples
    --------
    >>> hours_of("6pm-10pm"), hours_of("2 hrs a night"), hours_of("3x a week 70 min"), hours_of("30 min twice a day")
    (4.0, 2.0, 0.5, 1.0)
    """
    text, _ = _without_doubt(" ".join(written.translate(_SIGNS).split()))
    text = _decimal_fraction(text)
    if len(written) > LONGEST or not re.search(r"\d", text):
        return 0.0 if NEVER.fullmatch(text) else None
    clocks, parts = _CLOCKS.fullmatch(text), _HOURS_MINUTES.fullmatch(text)
    if clocks is not None and (clocks[3] or clocks[6] or (clocks[2] and clocks[5])):
        first, last = _clock(clocks[1], clocks[2], clocks[3] or clocks[6]), _clock(clocks[4], clocks[5], clocks[6])
        if first is None or last is None or (clocks[6] and not clocks[3] and first >= last):  # 10-6am: of which half?
            return None
        return (last - first) % 24.0
    if parts is not None and int(parts[2]) < 60:
        return int(parts[1]) + int(parts[2]) / 60.0
    often, times = _OFTEN.fullmatch(text), _TIMES_A_WEEK.fullmatch(text) or _THEN_TIMES.fullmatch(text)
    if times is not None:
        number = float(times["times"] or {"once": 1, "twice": 2}[times["word"].casefold()])
        return number * _in_hours(times) / _DAYS[times["per"][0].casefold()]
    if (days := _ON_DAYS.fullmatch(text)) is not None:
        return _in_hours(days) * days_in(text) / 7.0
    if often is not None:
        return _in_hours(often) / _DAYS[often["per"][0].casefold()]
    plain = re.fullmatch(rf"(?P<hours>\d+(?:\.\d+)?)\s*{_UNIT_OF_TIME}", text, re.IGNORECASE)
    return None if plain is None or text == written.strip() else _in_hours(plain)


def days_in(part_of_week: str) -> float:
    """Return how many days the words for a part of a week mean."""
    return 2.0 if re.search("week ?end", part_of_week, re.IGNORECASE) else 5.0


def _in_hours(match: re.Match[str]) -> float:
    return float(match["hours"]) / (60.0 if (match["unit"] or "h").casefold().startswith("m") else 1.0)


def _clock(hour: str, minute: str | None, half: str | None) -> float | None:
    at = int(hour) + int(minute or 0) / 60.0
    if half is None:
        return at if at <= 24.0 else None
    return None if not 1 <= int(hour) <= 12 else at % 12.0 + (12.0 if half.casefold() == "p" else 0.0)

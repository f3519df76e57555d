"""What the columns, channels and files of interval data call themselves: direction, unit, phase, quality."""

from __future__ import annotations

import re
from typing import Literal

Flow = Literal["delivered", "received", "net"]
Unit = Literal["kWh", "Wh", "kW", "W", "MWh", "V"]

KWH_OF: dict[str, float] = {"kWh": 1.0, "Wh": 1e-3, "MWh": 1e3}
KW_OF: dict[str, float] = {"kW": 1.0, "W": 1e-3}

_UNITS: tuple[tuple[re.Pattern[str], Unit], ...] = (
    (re.compile(r"(?<![a-z])kwh(?![a-z])|kilowatt[- ]?hours?", re.IGNORECASE), "kWh"),
    (re.compile(r"(?<![a-z])mwh(?![a-z])", re.IGNORECASE), "MWh"),
    (re.compile(r"(?<![a-z])wh(?![a-z])|(?<!kilo)watt[- ]?hours?", re.IGNORECASE), "Wh"),
    (re.compile(r"(?<![a-z])kw(?![a-z])|kilowatts?(?![- ]?h)", re.IGNORECASE), "kW"),
    (re.compile(r"(?<![A-Za-z])W(?![A-Za-z])|(?<!kilo)\b[Ww]atts?(?![- ]?[Hh])"), "W"),
    (re.compile(r"(?<![A-Za-z])V(?![A-Za-z0-9])|\b[Vv]olt(?:s|age)?\b"), "V"),
)
_FLOWS: tuple[tuple[re.Pattern[str], Flow], ...] = (
    (re.compile(r"(?<![a-z])net(?![a-z])", re.IGNORECASE), "net"),
    (
        re.compile(
            r"recei?ved(?! from)|recieved|export|generat|feed[- ]?in|to[- _]?(?:the[- _]?)?grid|reverse|surplus|sold"
            r"|return(?:ed)?|outflow|back[- ]?feed|einspeis|production|(?<![a-z])solar(?![a-z])|(?<![a-z])out(?![a-z])",
            re.IGNORECASE,
        ),
        "received",
    ),
    (
        re.compile(
            r"deliver|import|consum|usage|(?<![a-z])used?(?![a-z])|from[- _]?(?:the[- _]?)?grid|forward|purchase|bought"
            r"|inflow|bezug|(?<![a-z])in(?![a-z])",
            re.IGNORECASE,
        ),
        "delivered",
    ),
)
_PHASE = re.compile(
    r"(?:phase|leg|line)[- _]?([abc123])(?![a-z0-9])|(?<![a-z0-9])([abc])[- _]?phase|(?<![a-z0-9])l([123])(?![a-z0-9])",
    re.IGNORECASE,
)
_NOT_ENERGY = re.compile(
    r"cost|price|charge|amount|\$|€|£|(?<![a-z])(?:usd|eur|gbp)(?![a-z])|(?<![a-z])rate|tariff|temp(?:erature)?(?![a-z])"
    r"|humid|degree|°|weather|duration|minutes|length|power[- _]?factor|(?<![a-z])pf(?![a-z])|k?varh?(?![a-z])"
    r"|k?vah?(?![a-z])|frequency|(?<![a-z])hz(?![a-z])|(?<![a-z])amps?(?![a-z])|account|serial|premise|customer|zip"
    r"|(?<![a-z])id(?![a-z])|esi[- ]?id|(?<![a-z])row(?![a-z])|week|multiplier|co2|carbon|emission"
    r"|(?<![a-z])gas(?![a-z])|therm|water"
    r"|(?<![a-z])(?:meter|service|point)[- _]*(?:no|num(?:ber)?|#|point)?\.?$|^#$|^no\.?$",
    re.IGNORECASE,
)
_TIME = re.compile(
    r"(?:interval|period|read|reading|usage|local|meter|utc|service)*"
    r"(?:datetime|timestamp|date|and|time|start|stop|end|begin|beginning|ending|from|until|to|day|epoch|unix)+"
    r"(?:local|utc|gmt|s|lst|ldt|iso)?"
)
_HOUR = re.compile(r"(?:h|hr|hour|he|hours|hourending|hourend|hourbeginning|hourstarting|interval|period|hourofday)")
_END = re.compile(r"end|until|(?<![a-z])to$|stop|(?<![a-z])he(?![a-z])", re.IGNORECASE)
_START = re.compile(r"start|begin|from", re.IGNORECASE)
_QUALITY = re.compile(r"qualit|status|estimat|read[- _]?type|reading[- _]?type|flag|valid", re.IGNORECASE)
_ESTIMATED = re.compile(r"e\d?|est\.?|estimated?.*|yes|y|true|interpolated|substituted|edited", re.IGNORECASE)
_REGISTER = re.compile(
    r"register(?![a-z])|cumul|running|meter[- _]?read(?:ing)?(?![a-z])|(?<![a-z])index(?![a-z])|counter|odometer",
    re.IGNORECASE,
)
_OTHER_COMMODITY = re.compile(r"(?<![a-z])gas(?![a-z])|therm|(?<![a-z])ccf(?![a-z])|water|gallon", re.IGNORECASE)


def spaced(name: str) -> str:
    """Return a name with its words apart: ``usageKWh_delivered`` as ``usage KWh delivered``."""
    return re.sub(r"(?<=[a-z])(?=[A-Z])|[_]+", " ", name)


def unit_of(name: str) -> Unit | None:
    """Return the unit that a name holds.

    Examples
    --------
    >>> unit_of("Usage (Wh)"), unit_of("usage_kwh"), unit_of("Voltage"), unit_of("when")
    ('Wh', 'kWh', 'V', None)
    """
    name = re.sub(r"_+", " ", name)
    return next((unit for pattern, unit in _UNITS if pattern.search(name)), None)


def flow_of(name: str) -> Flow | None:
    """Return the direction that a name holds, as the utility's meter sees it: it delivers to the house.

    Examples
    --------
    >>> flow_of("kWh delivered"), flow_of("Export to grid"), flow_of("NetUsage"), flow_of("kwh")
    ('delivered', 'received', 'net', None)
    """
    name = spaced(name)
    return next((flow for pattern, flow in _FLOWS if pattern.search(name)), None)


def phase_of(name: str) -> str | None:
    """Return the phase that a name holds.

    Examples
    --------
    >>> phase_of("kWh L2"), phase_of("Phase B usage"), phase_of("usage")
    ('2', 'b', None)
    """
    found = _PHASE.search(spaced(name))
    return None if found is None else next(part for part in found.groups() if part).casefold()


def is_time(name: str) -> bool:
    """Whether a column names itself one of times."""
    return bool(_TIME.fullmatch(re.sub(r"[^a-z]+", "", name.casefold())))


def is_hour(name: str) -> bool:
    """Whether a column names itself one of hours."""
    return bool(_HOUR.fullmatch(re.sub(r"[^a-z]+", "", name.casefold())))


def stamp_of(name: str) -> Literal["start", "end"] | None:
    """Return which end of an interval a name says."""
    if _END.search(spaced(name)):
        return "end"
    return "start" if _START.search(spaced(name)) else None


def not_energy(name: str) -> bool:
    """Whether a column of numbers is plainly something else than energy or power."""
    return bool(_NOT_ENERGY.search(spaced(name))) and unit_of(name) not in ("kWh", "Wh")


def is_quality(name: str) -> bool:
    """Whether a column says how good a reading is."""
    return bool(_QUALITY.search(spaced(name)))


def is_estimated(text: str) -> bool:
    """Whether a cell of such a column says that the reading is an estimate."""
    return bool(_ESTIMATED.fullmatch(text.strip()))


def is_register(name: str) -> bool:
    """Whether a name speaks of a running register."""
    return bool(_REGISTER.search(spaced(name)))


def other_commodity(name: str) -> bool:
    """Whether a name speaks of gas or water."""
    return bool(_OTHER_COMMODITY.search(name))

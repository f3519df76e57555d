"""What the columns, channels and files of interval data call themselves: direction, unit, phase, quality."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import Literal

from reconcile.read.values.price_parts import ANYWHERE

Flow = Literal["delivered", "received", "net"]
Unit = Literal["kWh", "Wh", "kW", "W", "MWh", "V"]

KWH_OF: dict[str, float] = {"kWh": 1.0, "Wh": 1e-3, "MWh": 1e3}
KW_OF: dict[str, float] = {"kW": 1.0, "W": 1e-3}

_UNITS: tuple[tuple[re.Pattern[str], Unit], ...] = (
    (
        re.compile(
            r"(?<![a-z])kw(?:[-·⋅*. ]?)h(?:r?s?|ours?)(?![a-z])|kilowatt[- ]?hours?|kilowattstunden?"
            r"|квт[-·⋅*. ]?(?:ч|год)(?![а-я])",
            re.IGNORECASE,
        ),
        "kWh",
    ),
    (re.compile(r"(?<![a-z])mwh(?![a-z])", re.IGNORECASE), "MWh"),
    (re.compile(r"(?<![a-z])wh(?![a-z])|(?<!kilo)watt[- ]?hours?", re.IGNORECASE), "Wh"),
    (re.compile(r"(?<![a-z])kw(?![a-z])|kilowatts?(?![- ]?h)", re.IGNORECASE), "kW"),
    (re.compile(r"(?<![A-Za-z])W(?![A-Za-z])|(?<![A-Za-z])w$|[(\[]w[)\]]|(?<!kilo)\b[Ww]atts?(?![- ]?[Hh])"), "W"),
    (re.compile(r"(?<![A-Za-z])V(?![A-Za-z0-9])|\b[Vv]olt(?:s|age)?\b"), "V"),
)
_MISWRITTEN = re.compile(r"(?<![a-z])kw ?/ ?h(?![a-z])", re.IGNORECASE)
_FLOWS: tuple[tuple[re.Pattern[str], Flow], ...] = (
    (re.compile(r"(?<![a-z])net(?![a-z])|(?<![0-9.])16\.\d+\.\d", re.IGNORECASE), "net"),
    (
        re.compile(
            r"recei?ved(?! from)|recei?ved from (?:the )?(?:customer|consumer|member|house|home|premise|site)"
            r"|deliver\w* to (?:the )?(?:grid|utility|network)"
            r"|recieved|(?<![a-z])rec(?![a-z])|export|generat|fee?d[- ]?in|to[- _]?(?:the[- _]?)?grid"
            r"|(?<![a-z])(?:sent|given)(?![a-z])"
            r"|produc(?:ed|tion)"
            r"|reverse|surplus|sold|return(?:ed)?|outflow|back[- ]?feed|einspeis|r.ckliefer|produktion"
            r"|produksjon|inje[ck]|iniez|inyecc|immission|inmat|terug|excedent|vertid|oddan"
            r"|(?<![a-z])solar(?![a-z])|(?<![a-z])out(?![a-z])|(?<![a-z0-9])a-(?=$|[\s(\[])|(?<!\S)-a(?![a-z0-9])"
            r"|(?<![0-9.])2\.(?:4|5|7|8|9|29)\.\d",
            re.IGNORECASE,
        ),
        "received",
    ),
    (
        re.compile(
            r"deliver|(?<![a-z])del(?![a-z])|import|(?<![a-z])(?:draw[ns]?|taken)(?![a-z])|consum|consom|usage|(?<![a-z])used?(?![a-z])"
            r"|from[- _]?(?:the[- _]?)?grid|forward|purchase|bought|inflow|bezug|verbrauch|entnahme|verbruik|afname"
            r"|levering|soutir|preliev|f.rbruk|forbrug|uttag|pobran|(?<![a-z])in(?![a-z])"
            r"|(?<![a-z0-9])a[+]|(?<!\S)[+]a(?![a-z0-9])|(?<![0-9.])1\.(?:4|5|7|8|9|29)\.\d",
            re.IGNORECASE,
        ),
        "delivered",
    ),
)
_PHASE = re.compile(
    r"(?:phase|leg|line)[- _]?([abc123])(?![a-z0-9])|(?<![a-z0-9])([abc])[- _]?phase|(?<![a-z0-9])l([123])(?![a-z0-9])",
    re.IGNORECASE,
)
_OF_A_PART = "|".join(re.sub(" ", "[- ]?", word) for word in sorted(ANYWHERE, key=len, reverse=True))
_A_DAY = r"(?= *(?:\(|\[|k ?wh|wh|rate|tariff|usage|use|$))"
_PRICE = re.compile(
    rf"(?<![a-z])({_OF_A_PART}|(?:day|tag){_A_DAY}|fascia ?\d|(?:tariff?|rate|t|p|f) ?[1-6])(?![a-z0-9])"
    r"|(?<![0-9.])[12]\.8\.([1-6])(?!\d)",
    re.IGNORECASE,
)
_OTHER_QUANTITY = re.compile(
    r"cost|price|\$|€|£|[¥₹]|(?<![a-z])(?:usd|eur|gbp|chf|kr|sek|nok|dkk)(?![a-z])"
    r"|prei[sx]|kosten|prix|co.t(?![a-z])|precio|coste|prezzo"
    r"|temp(?:erature?|eratur)?(?![a-z])|humid|degree|°|weather|power[- _]?factor"
    r"|(?<![a-z])pf(?![a-z])|k?varh?(?![a-z])|k?vah?(?![a-z])|frequency|(?<![a-z])hz(?![a-z])|(?<![a-z])amp(?:ere)?s?(?![a-z])"
    r"|[\[(] ?m?a ?[\])]|(?<=[123])[ _]a$|(?<![a-z])current(?=$|[ _]*(?:[\[(]|l?[123]|rms))|(?<![a-z])i[ _]?l?[123]$"
    r"|%|(?<![a-z])soc(?![a-z])|state[- ]?of|irradia|rssi|signal|(?<![a-z])(?:thd|lux|ppm|dbm?)(?![a-z])"
    r"|co2|carbon|emission|(?<![a-z])gas(?![a-z])|therm|water",
    re.IGNORECASE,
)
"""Numbers of something else than electric energy or power."""
_NOT_ENERGY = re.compile(
    rf"{_OTHER_QUANTITY.pattern}|charge|amount|(?<![a-z])rate|tariff|betrag|montant|importe|costo"
    r"|duration|minutes|length|account|serial|premise|customer|zip|(?<![a-z])id(?![a-z])|esi[- ]?id"
    r"|(?<![a-z])row(?![a-z])|week|multiplier|offset|(?<![a-z])dst(?![a-z])|^(?:year|month|minute|hour)$"
    r"|(?<![a-z])(?:meter|service|point)[- _]*(?:no|num(?:ber)?|#|point)?\.?$|^#$|^no\.?$",
    re.IGNORECASE,
)
_A_KWH = r"(?:/|(?<![a-z])(?:per|pro|par|por)) ?[km]? ?wh(?![a-z])"
_PRICE_OF_ENERGY = re.compile(
    r"pri[cx](?!ip)|prei[sx]|precio|prezzo|(?<![a-z])cost(?!um)|co.t(?![a-z])|kosten|[$€£¢¥₹]|(?<![a-z])(?:cents?|pence)(?![a-z])"
    r"|(?<![a-z])(?:ct?|p|k?g|lbs?) ?/ ?[km]? ?wh"
    rf"|(?:rate|tariff?|co2|emission|carbon|intensity|(?<![a-z])(?:usd|eur|gbp|chf)).*{_A_KWH}|{_A_KWH}.*(?:rate|tariff?|co2|emission)",
    re.IGNORECASE,
)
"""Money, or carbon, for each kilowatt-hour: the unit in its name is none of the column's."""
_SAYS_ENERGY = re.compile(
    r"energ|usage|(?<![a-z])use|value|read|total|quantity|wert|valor|valeur|menge|number \d", re.IGNORECASE
)
_SAYS_POWER = re.compile(
    r"(?<![a-z])(?:demand|power|leistung|puissance|potencia|potenza|vermogen|effekt|moc)(?! ?factor)(?![a-z])",
    re.IGNORECASE,
)
_BEHIND = re.compile(
    r"self[- ]?consum|auto ?consum|eigenverbrauch|zelfverbruik|(?:solar|pv|panel)[- ]?(?:system)?[- ]?"
    r"(?:produc|generat|yield|erzeug)|batter(?:y|ie)|akku",
    re.IGNORECASE,
)
"""Energy behind the meter, which the grid never saw."""
_NOT_METERED = re.compile(
    r"forecast|predict|projection|budget|(?<![a-z])target|neighbo"
    r"|(?:similar|typical|average|efficient|comparable)[- ]?(?:home|house)"
    r"|(?:last|previous|prior)[- ]?(?:year|month|week)|(?:year|month|week)[- ]?ago|per ?cent(?:age)?|^%$",
    re.IGNORECASE,
)
"""Another time, another house or no reading at all."""
_TIME = re.compile(
    r"(?:interval|period|read|reading|usage|local|meter|utc|service|settlement|mess)*"
    r"(?:datetime|timestamp|date|and|time|start|stop|end|begin|beginning|ending|from|until|to|day|epoch|unix"
    r"|datum|zeitstempel|zeitpunkt|uhrzeit|zeit|fecha|data|dato|dia|horodatage|horodate|heure|hora|ora|tijdstip|tijd"
    r"|tidpunkt|tid|czas|godzina|cas|hodina|ido|idopont|aika|tarih|saat|klokkeslett?|von|bis|fra|til|desde|hasta|debut|fin|inicio|fim)+"
    r"(?:local|utc|gmt|s|lst|ldt|iso)?"
)
_HOUR = re.compile(
    r"(?:h|hr|hour|he|hours|(?:hr|hour)end(?:ing)?|hourbeginning|hourstarting|interval|period|hourofday|settlementperiod|sp"
    r"|slot|halfhour|hh|quarter|quarterhour|viertelstunde|stunde|hora|heure|ora|uur|timme|time|godzina|godz|hodina|tunti|saat|periodo|periode"
    r"|(?:interval|period)(?:no|number|num|id|ending|end))"
)
_END = re.compile(
    r"(?<!cal)(?<!week)end|until|(?<![a-z])to$|stop|(?<![a-z])(?:he|bis|hasta|fin|fim|til|tot)(?![a-z])", re.IGNORECASE
)
_START = re.compile(r"start|begin|from|(?<![a-z])(?:von|desde|fra|van|inicio)(?![a-z])|d.{1,2}but", re.IGNORECASE)
_QUALITY = re.compile(
    r"qualit|status|estimat|read[- _]?type|reading[- _]?type|flag|valid|calidad|kwaliteit|obtenci|nature", re.IGNORECASE
)
_SOUND = re.compile(r"valid|actual|final|good", re.IGNORECASE)
_ESTIMATED = re.compile(
    r"e\d?|est\.?|estimated?.*|estim.*|interpolated|substitut.*|edited|question.*|suspect.*|doubt.*|provisional"
    r"|calculated|derived|projected|filled|replaced|ersatzwert|gesch.*|prelim.*|missing|invalid|bad|fail.*"
    r"|not valid.*|unvalidated|no read.*",
    re.IGNORECASE,
)
_MISSING = re.compile(
    r"missing.*|invalid|no ?data|no ?read(?:ing)?s?|not available|null|none|outage|comm.*fail.*"
    r"|fail(?:ed|ure)?|bad|gap",
    re.IGNORECASE,
)
_REGISTER = re.compile(
    r"register(?![a-z])|cumul|running|meter[- _]?read(?:ing)?(?![a-z])|(?<![a-z])index(?![a-z])|counter|odometer"
    r"|z.{1,2}hlerstand|zaehlerstand|meterstand|(?<![a-z])stand(?![a-z])|lectura|lettura|leitura|relev|lifetime"
    r"|(?<![0-9.])[12]\.8\.\d",
    re.IGNORECASE,
)
_OTHER_COMMODITY = re.compile(
    r"(?<![a-z])gas(?![a-z])|therm|(?<![a-z])ccf(?![a-z])|(?<![a-z])mcf(?![a-z])|water|gallon|(?<![a-z])m3(?![a-z])|m³"
    r"|ft3|ft³|wasser",
    re.IGNORECASE,
)
_LABEL = re.compile(
    r"account|serial|premise|esi[- ]?id|(?<![a-z])(?:nmi|mpan|cups|ean|gsrn|prm|pod|id|channel|device|stream)(?![a-z])"
    r"|(?<![a-z])(?:meter|service|point|z.{1,2}hler|contador|compteur)[- _]*(?:no|nr|num(?:ber|mer)?|#|point|id)?\.?$",
    re.IGNORECASE,
)


@lru_cache(maxsize=1024)
def spaced(name: str) -> str:
    """Return a name with its words apart: ``usageKWh_delivered`` as ``usage KWh delivered``."""
    return re.sub(r"(?<=[a-z])(?=[A-Z])|[_]+", " ", name)


@lru_cache(maxsize=1024)
def unit_of(name: str) -> Unit | None:
    """Return the unit that a name holds.

    Examples
    --------
    >>> unit_of("Usage (Wh)"), unit_of("usage_kwh"), unit_of("Voltage"), unit_of("when")
    ('Wh', 'kWh', 'V', None)
    """
    name = re.sub(r"_+", " ", name)
    return next((unit for pattern, unit in _UNITS if pattern.search(name)), None)


@lru_cache(maxsize=1024)
def flow_of(name: str) -> Flow | None:
    """Return the direction that a name holds, as the utility's meter sees it: it delivers to the house.

    Examples
    --------
    >>> flow_of("kWh delivered"), flow_of("Export to grid"), flow_of("NetUsage"), flow_of("kwh")
    ('delivered', 'received', 'net', None)
    """
    name = spaced(name)
    return next((flow for pattern, flow in _FLOWS if pattern.search(name)), None)


@lru_cache(maxsize=1024)
def part_of(name: str) -> str | None:
    """Return the phase or the price period that a name holds: a part, where others stand beside it.

    Examples
    --------
    >>> part_of("kWh L2"), part_of("Phase B usage"), part_of("Off-Peak (kWh)"), part_of("usage")
    ('phase 2', 'phase b', 'price off peak', None)
    """
    name = spaced(name)
    for family, pattern in (("phase", _PHASE), ("price", _PRICE)):
        found = pattern.search(name)
        if found:
            return f"{family} {next(part for part in found.groups() if part).casefold().replace('-', ' ')}"
    return None


@lru_cache(maxsize=1024)
def _plain(name: str) -> str:
    return re.sub(r"[^a-z]+", "", unicodedata.normalize("NFKD", name.casefold()))


def is_time(name: str) -> bool:
    """Whether a column names itself one of times."""
    return bool(_TIME.fullmatch(_plain(name))) or name in ("日付", "時刻", "日時", "Дата", "Время")


@lru_cache(maxsize=1024)
def is_hour(name: str) -> bool:
    """Whether a column names itself one of hours, or of numbered periods of the day."""
    return bool(_HOUR.fullmatch(_plain(name)))


def stamp_of(name: str) -> Literal["start", "end"] | None:
    """Return which end of an interval a name says."""
    if _END.search(spaced(name)):
        return "end"
    return "start" if _START.search(spaced(name)) else None


@lru_cache(maxsize=1024)
def not_energy(name: str) -> bool:
    """Whether a column of numbers is plainly something else than energy or power that passed the meter."""
    if any(pattern.search(spaced(name)) for pattern in (_BEHIND, _NOT_METERED, _PRICE_OF_ENERGY)):
        return True
    return bool(_NOT_ENERGY.search(spaced(name))) and unit_of(name) not in KWH_OF


@lru_cache(maxsize=1024)
def no_electricity(name: str) -> bool:
    """Whether a name says that its column holds neither electric energy nor power, but money, volts, degrees or water.

    Examples
    --------
    >>> no_electricity("Price per kWh"), no_electricity("Usage (gallons)"), no_electricity("Water heater kWh")
    (True, True, False)
    """
    unit = unit_of(name)
    other = _OTHER_QUANTITY.search(spaced(name)) or _OTHER_COMMODITY.search(name) or unit == "V"
    return bool(_PRICE_OF_ENERGY.search(spaced(name)) or (other and unit not in {**KWH_OF, **KW_OF}))


def says_energy(name: str) -> bool:
    """Whether the name of a column without a unit may well be that of energy, beside one of power."""
    return flow_of(name) is not None or bool(_SAYS_ENERGY.search(spaced(name)))


def says_power(name: str) -> bool:
    """Whether a name without a unit is that of power, and not of energy."""
    return bool(_SAYS_POWER.search(spaced(name))) and unit_of(name) is None


def is_miswritten(name: str) -> bool:
    """Whether a name says kW/h, which may mean energy or power."""
    return bool(_MISWRITTEN.search(name))


@lru_cache(maxsize=1024)
def is_label(name: str) -> bool:
    """Whether a column of numbers names the meter, its channel or the account."""
    return bool(_LABEL.search(spaced(name)))


def is_quality(name: str) -> bool:
    """Whether a column says how good a reading is."""
    return bool(_QUALITY.search(spaced(name)))


def is_estimated(text: str, name: str = "") -> bool:
    """Whether a cell of such a column says that the reading is an estimate, or to be doubted.

    Examples
    --------
    >>> is_estimated("E"), is_estimated("Questionable"), is_estimated("Y", "Estimated"), is_estimated("Y", "Valid")
    (True, True, True, False)
    """
    text = text.strip().casefold()
    if text in ("yes", "y", "true", "1"):
        return bool(name) and not _SOUND.search(name) and "estim" in name.casefold()
    if text in ("no", "n", "false"):
        return bool(_SOUND.search(name))
    return bool(_ESTIMATED.fullmatch(text))


def is_missing(text: str) -> bool:
    """Whether a cell of such a column says that there is no reading: a zero beside it is a placeholder."""
    return bool(_MISSING.fullmatch(text.strip()))


def is_register(name: str) -> bool:
    """Whether a name speaks of a running register."""
    return bool(_REGISTER.search(spaced(name)))


def says_interval(name: str) -> bool:
    """Whether a name says that its values are the energy of each interval."""
    return bool(re.search(r"interval|hourly|usage|consum|verbrauch|per (?:hour|day)", spaced(name), re.IGNORECASE))


def other_commodity(name: str) -> bool:
    """Whether a name speaks of gas or water."""
    return bool(_OTHER_COMMODITY.search(name))

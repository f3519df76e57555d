"""What a column is: declared once in ``columns.toml``, and read, checked, offered and documented from that one row."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import field
from functools import cached_property
from importlib.resources import files
from typing import Any, Literal, get_args

from reconcile.read.tables.cells import plain_name
from reconcile.records import dataclass

Kind = Literal["day", "month", "period", "number", "money", "word", "text", "flag", "months"]

NEAR = 0.8
"""Likeness from which an unknown name is taken for a misspelled known one (common practice)."""

MOST_KEPT = 2000
"""Written names that are remembered with the column they mean."""

_BRACKETS = re.compile(r"[(\[{]([^()\[\]{}]*)[)\]}]")
_DEGREES = re.compile(r"(?:\s*\N{DEGREE SIGN}\s*|\s+(?:in\s+)?(?:deg(?:rees?)?\.?\s*)?)([CF]|(?i:celsius|fahrenheit))$")
"""A unit of temperature that ends a name without brackets."""
_TOKEN = re.compile(r"[^\W_]+|[$€£¥₹%°]")
_HUMP = re.compile(r"(?<=[a-z][a-jl-z])(?=[A-Z])")
"""Where a word begins with a large letter inside a name, as downloads write them; not in kWh."""
_LONG_UNITS = re.compile(r"kilo\s*watt[\s-]*hours?|k\.?w\.?h\.?(?:rs?|s)?(?![^\W\d_])|kw[\s-]+hrs?(?![^\W\d_])")
_UNITS: Mapping[str, str] = {
    **{unit.casefold(): unit for unit in ("kWh", "MWh", "Wh", "kW", "W", "therm", "m3", "MJ", "GJ")},
    **dict.fromkeys(("watt", "watts"), "W"),
    **dict.fromkeys(("c", "celsius"), "degC"),
    **dict.fromkeys(("f", "fahrenheit"), "degF"),
    "therms": "therm",
    "ccf": "ft3",
}
"""Units by the words of a header; those of other services are there to be told apart."""
SIGNS = frozenset(
    (
        *("$", "€", "£", "¥", "₹", "%", "°", "usd", "eur", "gbp", "inr", "rs", "rupees", "aud", "cad", "nzd", "chf"),
        *("zar", "kr", "sek", "nok", "dkk", "pln", "zł", "kč"),
    )
)
_ELECTRIC = frozenset(("electric", "electricity", "elec", "electrical", "power"))
_OTHER = frozenset(
    (
        *("gas", "water", "sewer", "therms", "internet", "excl", "excluding", "ex", "net", "before", "without"),
        *("last", "lastyear", "previous", "prior", "prev", "per", "average", "avg", "mean", "rate", "target"),
        *("budget", "daily", "estimated", "forecast", "cumulative", "ytd", "peak", "offpeak", "shoulder"),
    )
)
"""Words that make a column another one than its remaining words say: ``kWh per day``, ``Amount excl. tax``."""


_PRICE_TIMES = frozenset(("day", "night", "ht", "nt", "hp", "hc", "f1", "f2", "f3"))
"""Words of times with prices of their own, in several languages."""

_SHORT: Mapping[str, str] = {
    short: word
    for word, shorts in {
        "day": "tag jour día dia giorno dag", "week": "woche semaine semana settimana", "month": "mo", "year": "yr",
        "date": "dt", "amount": "amt", "total": "tot totals", "quantity": "qty", "begin": "beg", "reading": "rdg",
        "incl": "inc including included with", "tax": "vat gst mwst iva tva btw moms taxes", "number": "nbr num no",
        "previous": "prev", "present": "pres", "current": "curr", "service": "svc", "charge": "chg", "charges": "chgs",
        "consumption": "consump",
    }.items()
    for short in shorts.split()
}  # fmt: skip
"""What people shorten in a header, and what means the same there, each with the one word that stands for it."""
_OF_BILL = frozenset(
    (
        *("bill", "billing", "billed", "statement", "invoice", "service", "period", "cycle", "total", "current"),
        *("this", "actual", "metered", "meter", "monthly", "month", "of", "the", "in", "your", "my", "for", "used"),
        *("value", "quantity", "amount", "consumed", "periode", "période", "periodo", "período", "zeitraum"),
    )
)
"""Words beside a day, a number or a unit that say no more than that it is the bill's."""
_OF_USE = frozenset(("usage", "use", "consumption", "reading", "read"))
"""And beside a day."""
_WITH_TAX = frozenset(("incl", "tax"))
_OF_SUM = frozenset(("bill", "billing", "billed", "invoice", "statement", "total", "this", "current"))
"""And beside money."""


@dataclass(frozen=True)
class Column:
    """One column of a table."""

    name: str
    """As the page on formats writes it."""
    kind: Kind
    """How its cells are read."""
    meaning: str
    """What stands in it, in the words of the page."""
    other_names: str = ""
    """Names that bills and spreadsheets use for it, parted by commas; the likeliest first."""
    unit: str | None = None
    """Unit of a plain number, as pint writes it."""
    low: float | None = None
    high: float | None = None
    above: float | None = None
    """All: what a value must keep to; ``above`` itself is not allowed."""
    whole: bool = False
    """Whether only whole numbers are right."""
    usual_low: float | None = None
    """Below this a value is odd: it helps to tell 1.204 (one thousand) from 1.204 (one and a bit)."""
    default: str = ""
    """What an empty cell means, in the words of the page."""
    words: Mapping[str, str] = field(default_factory=dict)
    """Codes that may stand in it, each with what people write for it, parted by commas."""
    needed: bool = False
    """Whether the page marks it so."""

    @property
    def synonyms(self) -> tuple[str, ...]:
        """The other names, apart."""
        return _split(self.other_names)

    @property
    def codes(self) -> tuple[str, ...]:
        """Words that may stand in the column."""
        return tuple(self.words)

    def code(self, written: str) -> str | None:
        """Return the code that a word stands for.

        >>> from reconcile.read.tables.columns import BILLS
        >>> BILLS["read_type"].code("Est."), BILLS["read_type"].code("perhaps")
        ('estimated', None)
        """
        return self._code_of.get(plain_word(written))

    @cached_property
    def _code_of(self) -> Mapping[str, str]:
        """Every word as it is matched, and its code; the first where two codes share one."""
        found: dict[str, str] = {}
        for code, others in self.words.items():
            for word in (code, *_split(others)):
                found.setdefault(plain_word(word), code)
        return found


@dataclass(frozen=True)
class Columns:
    """The columns of one kind of table, and names of columns that do no harm unread."""

    table: str
    columns: tuple[Column, ...]
    spare: str = ""
    row_is: str = "row"
    """What one row is, for a notice: a bill, a load."""
    most_rows: int = 1_000_000
    """Rows of which more are rather another table (a guard, common practice)."""
    if_more: str = ""
    """What to do where there are more."""

    def __iter__(self) -> Iterator[Column]:
        return iter(self.columns)

    def __getitem__(self, name: str) -> Column:
        return self._by_name[name]

    @cached_property
    def _by_name(self) -> dict[str, Column]:
        return {column.name: column for column in self.columns}

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Names in the order of the page."""
        return tuple(column.name for column in self.columns)

    @cached_property
    def by_key(self) -> dict[str, tuple[int, str]]:
        """Matched form of every name and synonym to its rank (0 is the name itself) and its column."""
        found = {joined(column.name): (0, column.name) for column in self.columns}
        for column in self.columns:
            for rank, synonym in enumerate(column.synonyms, start=1):
                found.setdefault(joined(synonym), (rank, column.name))
        return found

    @cached_property
    def _by_words(self) -> dict[str, tuple[int, str]]:
        """The same by the words that stand for those that are shortened."""
        found: dict[str, tuple[int, str]] = {}
        for column in self.columns:
            for rank, name in enumerate((column.name, *column.synonyms)):
                found.setdefault("".join(_spelled(tokens(name))), (rank, column.name))
        return found

    @cached_property
    def _spare_keys(self) -> frozenset[str]:
        return frozenset(joined(name) for name in _split(self.spare))

    def is_spare(self, written: str) -> bool:
        """Whether a name is one of those that do no harm."""
        return joined(written) in self._spare_keys or joined(_BRACKETS.sub(" ", written)) in self._spare_keys

    def match(self, written: str) -> Match | None:
        """Return the column that a name means, None where it means none.

        Examples
        --------
        >>> from reconcile.read.tables.columns import BILLS, WEATHER
        >>> BILLS.match("Usage (kWh)"), BILLS.match("kWh per day")
        (Match(column='kwh', rank=19, unit='kWh'), None)
        >>> WEATHER.match("Mean \N{DEGREE SIGN}C").unit, WEATHER.match("Avg Temp F").unit
        ('degC', 'degF')
        """
        if written not in self._matched:
            if len(self._matched) >= MOST_KEPT:
                self._matched.clear()
            self._matched[written] = self._match(written)
        return self._matched[written]

    @cached_property
    def _matched(self) -> dict[str, Match | None]:
        """Names already looked up: the same ones stand over every table."""
        return {}

    def _match(self, written: str) -> Match | None:
        if joined(written) in self._spare_keys and joined(written) not in self.by_key:
            return None
        if joined(written) not in self.by_key:
            written = _DEGREES.sub(r" (\1)", written)
        bare = _BRACKETS.sub(" ", written)
        inside = [token for part in _BRACKETS.findall(written) for token in tokens(part)]
        words = tokens(bare)
        units = [_UNITS[word] for word in (*inside, *words) if word in _UNITS]
        unit = units[0] if units else None
        plain = [word for word in words if word not in _ELECTRIC]
        if not plain and len(inside) == len(units):  # Electric (kWh)
            plain = inside
        odd = any(word in _OTHER for word in (*inside, *words))
        for n, key in enumerate(
            (
                joined(written),
                "".join(words),
                "".join(plain),
                "".join(word for word in plain if word not in _UNITS and word not in SIGNS),
            )
        ):
            if odd and n > (1 if not any(word in _OTHER for word in inside) else 0):
                return None
            if key in self.by_key:
                rank, name = self.by_key[key]
                column = self[name]
                if column.unit is not None and re.search(
                    r"[$\N{EURO SIGN}\N{POUND SIGN}]", written
                ):  # Energy $ is money
                    return None
                if column.kind == "money" and "#" in written:  # Bill # counts them
                    return None
                if unit is not None and (n or inside) and not _fits(unit, column):
                    break
                return Match(name, rank + (n > 1), unit)
        return None if odd or re.search("[,;:|]", written) else self._told_by_words(words, unit)

    def _told_by_words(self, words: list[str], unit: str | None) -> Match | None:
        """Return the column that the words of a name mean together: shortened, each by itself, or beside a unit."""
        of_unit = {"kWh": "kwh", "MWh": "kwh", "Wh": "kwh", "kW": "demand_kw"}.get(unit or "", "")
        for said in (words, _spelled(words)):
            said = [word for word in said if word not in _UNITS and word not in SIGNS and word not in _ELECTRIC]
            rest = [word for word in said if word not in _OF_BILL] if self.table == "bills" else said
            when = [word for word in rest if word not in _OF_USE] if self.table == "bills" else said
            untaxed = [word for word in said if word not in _WITH_TAX] if {*said} >= _WITH_TAX else []
            named = {(self._by_words.get(word) or (0, ""))[1] for word in said}
            told: list[tuple[tuple[int, str] | None, tuple[str, ...]]] = [
                (self._by_words.get("".join(said)), get_args(Kind)),
                (self._by_words.get("".join(rest)), ("day", "number", "month", "period")),
                (self._by_words.get("".join(when)), ("day",)),
                (self._by_words.get("".join(untaxed)), ("money",)),
                (self._by_words.get("".join(word for word in said if word not in _OF_SUM)), ("money",)),
                ((len(said), named.pop()) if len(named) == 1 else None, get_args(Kind)),
                ((0, of_unit) if not rest else None, ("number",)),
            ]
            for found, kinds in told:
                column = None if found is None else self._by_name.get(found[1])
                if found and column and column.kind in kinds and (unit is None or _fits(unit, column)):
                    return Match(column.name, found[0] + 1, unit)
        return None

    def near(self, written: str) -> str | None:
        """Return the known name that an unknown one was probably meant as."""
        key = "".join(word for word in tokens(_BRACKETS.sub(" ", written)) if word not in SIGNS)[:60]
        close = difflib.get_close_matches(key, list(self.by_key), n=1, cutoff=NEAR)
        found = self.by_key[close[0]][1] if close and len(key) > 2 else None
        if found is not None and self[found].unit is not None and re.search(r"[$\N{EURO SIGN}\N{POUND SIGN}]", written):
            return None
        return found


@dataclass(frozen=True, slots=True)
class Match:
    """A column found by a name: how far its synonym stands from the name itself, and the unit it carries."""

    column: str
    rank: int
    unit: str | None


def is_another(written: str) -> bool:
    """Whether a name says that it is not quite what its other words say: ``kWh per day``, ``Peak kWh``.

    >>> is_another("Peak kWh"), is_another("kWh/day"), is_another("Verbruik")
    (True, True, False)
    """
    words = tokens(written)
    return any(word in _OTHER or word in _PRICE_TIMES for word in words)


def _fits(unit: str, column: Column) -> bool:
    """Whether a unit in a header can be the column's: kWh and MWh of energy, not therms."""
    if column.unit is None:
        return column.kind not in ("number", "money", "day", "month", "period")
    if unit in ("degC", "degF"):
        return column.unit == "degree"
    kinds = {"kWh": "energy", "MWh": "energy", "Wh": "energy", "kW": "power", "W": "power"}
    return kinds.get(unit, unit) == kinds.get(column.unit, column.unit)


def _spelled(words: list[str]) -> list[str]:
    """Return the words of a header, those that are shortened by the ones that stand for them."""
    return [_SHORT.get(word, word) for word in words] if len(words) > 1 else words


def _split(text: str) -> tuple[str, ...]:
    return tuple(part for part in text.split(", ") if part)


def plain_word(word: str) -> str:
    """Return a word of a cell as it is matched: small, without spaces, points and brackets.

    >>> plain_word("(Est.)")
    'est'
    """
    return re.sub(r"[\s_\-.()\[\]*]+", "", word[:100]).casefold()


def tokens(text: str) -> list[str]:
    """Return the words of a header, small, hours of kilowatts in one form.

    >>> tokens("Energy used, kilowatt-hours")
    ['energy', 'used', 'kwh']
    >>> tokens("amountUsd"), tokens("usage_kWh")
    (['amount', 'usd'], ['usage', 'kwh'])
    """
    return _TOKEN.findall(_LONG_UNITS.sub("kwh", _HUMP.sub(" ", text[:200]).casefold()))


def joined(text: str) -> str:
    """Return a header as it is matched.

    >>> joined("Service to:"), joined("read_type")
    ('serviceto', 'readtype')
    """
    return "".join(tokens(text)) or plain_name(text)


def _tables() -> dict[str, Columns]:
    text = files("reconcile.read.tables").joinpath("columns.toml").read_text(encoding="utf-8")
    raw = tomllib.loads(text)
    shared = raw.pop("words")
    return {name: _table(name, table, shared) for name, table in raw.items()}


def _table(name: str, table: Mapping[str, Any], shared: Mapping[str, Mapping[str, str]]) -> Columns:
    columns = []
    told = {key: value for key, value in table.items() if key != "column"}
    for row in table["column"]:
        fields = dict(row)
        words = fields.pop("words", {})
        fields["words"] = shared[words] if isinstance(words, str) else words
        fields["other_names"] = fields.pop("also", "")
        columns.append(Column(**fields))
    return Columns(name, tuple(columns), **told)


DAYS = ("period", "start", "end", "month", "bill_date")
ENERGY = ("kwh", "reading_end", "delivered_kwh")
"""Columns of bills that tell their days, and their energy: a table has at least one of each."""
TABLES = _tables()
BILLS, LOADS, WEATHER = TABLES["bills"], TABLES["loads"], TABLES["weather"]
EVENTS, READINGS, CHARGES = TABLES["events"], TABLES["readings"], TABLES["charges"]

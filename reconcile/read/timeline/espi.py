"""ESPI data (NAESB REQ.21): the entries of a feed, its readings, its clock and its billed summaries.

Codes are those of the schema itself (usage.xsd of REQ.21 3.3 and espi.xsd 0.7), read there.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import field
from typing import Any

import numpy as np

from reconcile.array_types import Flags, Floats, Ints
from reconcile.read.layouts.interval_names import Flow, Unit
from reconcile.read.tables.gate import Gate
from reconcile.read.timeline.espi_clock import NO_RULE, DstRule, FileClock
from reconcile.records import dataclass

ELECTRICITY = 0
"""``kind`` of a ServiceCategory."""
ELECTRIC_COMMODITIES = (0, 1, 2)
"""``commodity``: none said, secondary and primary metered electricity."""
UNITS: dict[int, Unit] = {72: "Wh", 38: "W", 29: "V"}
"""``uom`` of what is read; the rest (reactive, apparent, amperes, money, gas) are told and left."""
UNIT_NAMES = {
    61: "VA",
    63: "VAr",
    71: "VAh",
    73: "VArh",
    5: "A",
    33: "Hz",
    65: "power factor",
    31: "J",
    106: "Ah",
    132: "Btu",
    133: "Btu/h",
    42: "m3",
    119: "ft3",
    169: "therm",
    128: "US gallons",
    134: "litres",
    111: "a count",
    80: "money",
    0: "no unit",
}
FLOWS: dict[int, Flow] = {1: "delivered", 4: "net", 19: "received"}
"""``flowDirection``; 0 (none said) and 20 (the sum of both) tell nothing of the direction."""
RUNNING = (1, 2, 3, 9)
"""``accumulationBehaviour`` of a register that runs on: bulk, continuous, cumulative, summation."""
ESTIMATED = (8, 9, 12)
"""``quality`` of a reading that is an estimate: by a reference day, by interpolation, projected."""
DEEPEST = 60
MOST_READINGS = 12_000_000

_DECIMAL = re.compile(r"[+-]?\d{1,15}\.\d{0,15}", re.ASCII)
_PATH = re.compile(r"(?:https?://[^/]+)?/*(.*?)/*$")


@dataclass(slots=True)
class Summary:
    """What was billed for one period; energy in Wh, money in hundred-thousandths of the currency."""

    usage_point: str
    start: int
    duration: int
    wh: float | None = None
    amount: int | None = None
    currency: int | None = None
    items: list[tuple[int, int, str]] = field(default_factory=list)


@dataclass(slots=True)
class Meter:
    """A MeterReading: its type, its usage point, and its readings."""

    key: str
    usage_point: str
    title: str
    kind: dict[str, int]
    starts: Ints
    durations: Ints
    values: Floats
    estimated: Flags
    ordinals: Ints
    """Place of each reading among all of the file."""

    @property
    def flow(self) -> Flow | None:
        """Direction."""
        return FLOWS.get(self.kind.get("flowDirection", 0))


@dataclass(slots=True)
class Parsed:
    """A feed."""

    meters: list[Meter] = field(default_factory=list)
    summaries: list[Summary] = field(default_factory=list)
    clock: FileClock | None = None
    points: dict[str, tuple[int, str]] = field(default_factory=dict)
    """Usage points: kind of service and title."""


def key_of(href: str) -> str:
    """Return what names a resource, whatever host and service it is on.

    Examples
    --------
    >>> key_of("https://a.example/espi/1_1/resource/RetailCustomer/9/UsagePoint/01/MeterReading/1")
    'UsagePoint/01/MeterReading/1'
    >>> key_of("ReadingType/07")
    'ReadingType/07'
    """
    found = _PATH.fullmatch(href.strip())
    path = found[1] if found else href
    for mark in ("UsagePoint/", "ReadingType/", "LocalTimeParameters/"):
        at = path.find(mark)
        if at >= 0:
            return path[at:]
    return path


def _name(tag: str) -> str:
    return tag.rpartition("}")[2]


def _texts(element: Any) -> dict[str, str]:
    return {_name(child.tag): (child.text or "").strip() for child in element}


def _int(text: str | None) -> int | None:
    try:
        value = int(text or "")
    except ValueError:
        return None
    return value if abs(value) < 2**62 else None


def _number(text: str | None) -> float:
    """Return a value, which some feeds write with decimals though the schema has none; NaN where it is none."""
    number = _int(text)
    if number is not None:
        return float(number)
    found = _DECIMAL.fullmatch((text or "").strip())
    return float(found[0]) if found else float("nan")


def _child(element: Any, *names: str) -> Any:
    for name in names:
        element = next((child for child in element if _name(child.tag) == name), None)
        if element is None:
            return None
    return element


@dataclass(slots=True)
class _Block:
    links: dict[str, list[str]]
    first: int
    last: int


class _Readings:
    """Gathers readings in plain lists; a reading that lacks a part is kept as NaN."""

    def __init__(self) -> None:
        self.starts: list[int] = []
        self.durations: list[int] = []
        self.values: list[float] = []
        self.estimated: list[bool] = []

    def add(self, element: Any) -> None:
        start = duration = 0
        value, estimated = float("nan"), False
        for child in element:
            name = _name(child.tag)
            if name == "value":
                value = _number(child.text)
            elif name == "timePeriod":
                texts = _texts(child)
                start, duration = _int(texts.get("start")) or 0, _int(texts.get("duration")) or 0
            elif name == "ReadingQuality":
                estimated = estimated or _int(_texts(child).get("quality")) in ESTIMATED
        self.starts.append(start)
        self.durations.append(duration)
        self.values.append(value)
        self.estimated.append(estimated)


def parse_feed(data: bytes, file: str, gate: Gate) -> Parsed | None:
    """Parse a feed; None, with a fault, where it is none.

    Neither entities nor a document type are allowed, and nothing outside the file is ever read.
    """
    from xml.etree.ElementTree import ParseError

    from defusedxml.common import DefusedXmlException

    feed = _Feed()
    try:
        for element in _events(data):
            feed.take(element)
    except ParseError as error:
        row = error.position[0] if getattr(error, "position", None) else None
        gate.fault("this XML is broken or incomplete", "Download it anew.", file=file, row=row)
        return None
    except DefusedXmlException:
        gate.fault(
            "this XML has a document type or entities, which are never read", "Download it anew.", file=file, row=1
        )
        return None
    except (_TooDeepError, LookupError, ValueError, OverflowError):
        gate.fault("this XML is no feed of readings", "Download it anew.", file=file, row=1)
        return None
    parsed = feed.parsed()
    if not feed.readings.values and not parsed.summaries:
        gate.fault(
            "this XML holds no ESPI readings",
            "Download the usage data (NAESB ESPI XML, or CSV) from the utility.",
            file=file,
            row=1,
        )
        return None
    return parsed


class _TooDeepError(Exception):
    pass


def _events(data: bytes) -> Iterator[Any]:
    from defusedxml.ElementTree import iterparse

    depth = 0
    for event, element in iterparse(io.BytesIO(data), events=("start", "end"), forbid_dtd=True):
        depth += 1 if event == "start" else -1
        if depth > DEEPEST:
            raise _TooDeepError
        if event == "end":
            yield element


class _Feed:
    def __init__(self) -> None:
        self.readings = _Readings()
        self.blocks: list[tuple[int, int]] = []
        self.begun = 0
        self.entries: list[tuple[str, dict[str, list[str]], str, Any]] = []
        self.owned: list[_Block] = []

    def take(self, element: Any) -> None:
        """Take in an element that has ended."""
        name = _name(element.tag)
        if name == "IntervalReading":
            self.readings.add(element)
            element.clear()
            if len(self.readings.values) > MOST_READINGS:
                raise ValueError("too many readings")
        elif name == "entry":
            self._entry(element)
            element.clear()

    def _entry(self, entry: Any) -> None:
        links: dict[str, list[str]] = {"self": [], "up": [], "related": []}
        title, content = "", None
        for child in entry:
            name = _name(child.tag)
            if name == "link":
                links.setdefault(child.get("rel", ""), []).append(key_of(child.get("href", "")))
            elif name == "title":
                title = (child.text or "").strip()
            elif name == "content":
                content = child
        last = len(self.readings.values)
        if last > self.begun:
            self.owned.append(_Block(links, self.begun, last))
            self.begun = last
        for thing in content if content is not None else ():
            kind = _name(thing.tag)
            if kind == "ReadingType":
                self.entries.append(
                    (kind, links, title, {k: v for k, t in _texts(thing).items() if (v := _int(t)) is not None})
                )
            elif kind == "UsagePoint":
                service = _child(thing, "ServiceCategory", "kind")
                self.entries.append((kind, links, title, _int(service.text) if service is not None else None))
            elif kind == "MeterReading":
                self.entries.append((kind, links, title, None))
            elif kind in ("LocalTimeParameters", "TimeConfiguration"):
                self.entries.append(("clock", links, title, _texts(thing)))
            elif kind in ("ElectricPowerUsageSummary", "UsageSummary"):
                self.entries.append(("summary", links, title, _summary(thing)))

    def parsed(self) -> Parsed:
        """Bring together what the links name."""
        out = Parsed()
        types: dict[str, tuple[dict[str, int], str]] = {}
        meters: dict[str, tuple[str, list[str]]] = {}
        for kind, links, title, thing in self.entries:
            own = links["self"][0] if links["self"] else ""
            if kind == "ReadingType":
                types[own] = (thing, title)
            elif kind == "UsagePoint":
                out.points[own] = (ELECTRICITY if thing is None else thing, title)
            elif kind == "MeterReading":
                meters[own] = (title, links["related"])
            elif kind == "clock":
                out.clock = out.clock or _clock(thing)
            elif thing is not None:
                thing.usage_point = own.partition("/ElectricPowerUsageSummary")[0].partition("/UsageSummary")[0]
                out.summaries.append(thing)
        by_meter: dict[str, list[_Block]] = {}
        for block in self.owned:
            named = [*block.links["self"], *block.links["up"]]
            key = next((name.partition("/IntervalBlock")[0] for name in named if "/IntervalBlock" in name), "")
            by_meter.setdefault(key, []).append(block)
        for key, blocks in by_meter.items():
            title, related = meters.get(key, ("", []))
            kind_of, type_title = next(
                (types[name] for name in related if name in types),
                next(iter(types.values())) if len(types) == 1 else ({}, ""),
            )
            out.meters.append(self._meter(key, type_title or title, kind_of, blocks))
        return out

    def _meter(self, key: str, title: str, kind: dict[str, int], blocks: list[_Block]) -> Meter:
        parts = [slice(block.first, block.last) for block in blocks]

        def cut(values: list[Any], dtype: Any) -> Any:
            return np.concatenate([np.array(values[part], dtype=dtype) for part in parts])

        return Meter(
            key,
            key.partition("/MeterReading")[0],
            title,
            kind,
            cut(self.readings.starts, np.int64),
            cut(self.readings.durations, np.int64),
            cut(self.readings.values, np.float64),
            cut(self.readings.estimated, bool),
            np.concatenate([np.arange(block.first, block.last) for block in blocks]),
        )


def _clock(texts: dict[str, str]) -> FileClock | None:
    offset = _int(texts.get("tzOffset"))
    if offset is None:
        return None

    def rule(name: str) -> DstRule | None:
        try:
            return DstRule.of(int(texts.get(name, ""), 16) & NO_RULE)
        except ValueError:
            return None

    return FileClock(offset, _int(texts.get("dstOffset")) or 0, rule("dstStartRule"), rule("dstEndRule"))


def _summary(element: Any) -> Summary | None:
    period = _child(element, "billingPeriod")
    if period is None:
        return None
    times = _texts(period)
    start, duration = _int(times.get("start")), _int(times.get("duration"))
    if not start or not duration or duration < 0:
        return None
    texts = _texts(element)
    made = Summary("", start, duration, amount=_int(texts.get("billLastPeriod")), currency=_int(texts.get("currency")))
    used = _child(element, "overallConsumptionLastPeriod")
    if used is not None:
        what = _texts(used)
        value, power, unit = (_int(what.get(name)) for name in ("value", "powerOfTenMultiplier", "uom"))
        if value is not None and unit in (72, None) and abs(power or 0) <= 12:
            made.wh = value * 10.0 ** (power or 0)
    for child in element:
        if _name(child.tag) == "costAdditionalDetailLastPeriod":
            line = _texts(child)
            amount, kind = _int(line.get("amount")), _int(line.get("itemKind"))
            if amount is not None and kind is not None:
                made.items.append((kind, amount, line.get("note", "")))
    return made

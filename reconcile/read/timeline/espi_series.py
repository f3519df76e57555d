"""The meters of an ESPI feed as series of readings, and its billed summaries as bills."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import field, replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np

from reconcile.array_types import Ints
from reconcile.clock import DAY_SECONDS, as_day, changes, local_seconds, offset_at
from reconcile.house import Bill, ChargeLine
from reconcile.money.tariff_lines import cents
from reconcile.read.household.settings import IntervalSettings
from reconcile.read.layouts.cell_kinds import LayoutError
from reconcile.read.layouts.interval_channels import Assumptions
from reconcile.read.tables.cells import plain_name
from reconcile.read.tables.gate import Gate
from reconcile.read.timeline.espi import (
    ELECTRIC_COMMODITIES,
    ELECTRICITY,
    UNIT_NAMES,
    UNITS,
    Meter,
    Parsed,
    Summary,
    parse_feed,
)
from reconcile.read.timeline.espi_clock import FileClock
from reconcile.read.timeline.espi_registers import house_meters, is_running_meter, unit_of_meter, whole_series
from reconcile.read.timeline.series import ReadContext, Series
from reconcile.read.timeline.told_zone import zone_of_feed
from reconcile.read.wrappings.interval_files import Feed
from reconcile.records import dataclass

SHORTEST_BILL, LONGEST_BILL = 5 * DAY_SECONDS, 100 * DAY_SECONDS
"""Length of a billing period [s]."""


@dataclass(slots=True)
class FeedLines:
    """The lines of a feed, so that a fault can quote a reading."""

    file: str
    data: bytes
    sheet: str | None = None

    def cell(self, row: int, column: int) -> str:
        """Return the value that stands in a line, or in the first after it."""
        at = 0
        for _ in range(row - 1):
            at = self.data.find(b"\n", at) + 1
        found = re.compile(rb"value>\s*([^<]*?)\s*<").search(self.data, at)
        return found[1].decode("utf-8", "replace") if found else ""


def lines_of(data: bytes) -> Ints:
    """Return the line of every reading of a feed."""
    places = [found.start() for found in re.finditer(rb"<(?:\w+:)?IntervalReading[\s>]", data)]
    ends = np.flatnonzero(np.frombuffer(data, np.uint8) == ord("\n"))
    return np.searchsorted(ends, np.array(places, dtype=np.int64)) + 1


@dataclass(slots=True)
class Billed:
    """Bills that a feed holds, and their lines."""

    bills: list[Bill] = field(default_factory=list)
    charges: list[ChargeLine] = field(default_factory=list)
    timezone: str | None = None
    """The house's time zone, where the household names none and a feed tells it."""


def read_feed(feed: Feed, context: ReadContext) -> tuple[list[Series], Billed]:
    """Read a feed; the channel of the settings names the usage point where there are several.

    Returns
    -------
    series : list of Series
        Of one usage point, or of two where one holds what was drawn and the other what was sent back.
    billed : Billed
    """
    gate, home, assumed = context.gate, context.home, context.assumed
    parsed = parse_feed(feed.data, feed.file, gate)
    if parsed is None:
        return [], Billed()
    told = None if context.zone_given else zone_of_feed(parsed, context.house.timezone)
    if told is not None:
        home = ZoneInfo(told)
    electric = [meter for meter in parsed.meters if _is_electric(meter, parsed)]
    if parsed.meters and not electric:
        other = parsed.meters[0].kind.get("uom", 0)
        unit = UNIT_NAMES.get(other, "another unit")
        gate.fault(
            f"this file holds no electricity: its readings are in {unit}",
            "Download the electric meter's data; take this file away.",
            file=feed.file,
        )
        return [], Billed()
    points = _points(electric, parsed, context.settings, feed, gate)
    if points is None:
        return [], Billed()
    mine = [meter for meter in electric if meter.usage_point in points]
    _tell_clock(parsed.clock, mine, home, assumed)
    left = [UNIT_NAMES.get(meter.kind.get("uom", 0), "another unit") for meter in mine if unit_of_meter(meter) is None]
    if left:
        assumed.add("espi-left", units=", ".join(dict.fromkeys(left)))
    table, lines = FeedLines(feed.file, feed.data), lines_of(feed.data)
    billed = _billed([s for s in parsed.summaries if s.usage_point in (*points, "") or len(parsed.points) < 2], home)
    billed.timezone = told
    short = [meter for meter in mine if len(meter.values) and np.median(meter.durations) <= 1.1 * DAY_SECONDS]
    for meter in mine:
        long = len(meter.values) > 0 and meter not in short
        if long and unit_of_meter(meter) == "Wh" and meter.flow in ("delivered", None):
            billed.bills = _both(_long_readings(meter, home), billed.bills)
    read = [(meter, _series(meter, table, lines, home, assumed)) for meter in house_meters(short, assumed)]
    try:
        return whole_series(read, assumed), billed
    except LayoutError as error:
        gate.fault_in(table, error.problem, error.remedy)
        return [], billed


def _is_electric(meter: Meter, parsed: Parsed) -> bool:
    kind = parsed.points.get(meter.usage_point, (ELECTRICITY, ""))[0]
    return kind == ELECTRICITY and meter.kind.get("commodity", 0) in ELECTRIC_COMMODITIES


def _points(
    meters: list[Meter], parsed: Parsed, settings: IntervalSettings, feed: Feed, gate: Gate
) -> tuple[str, ...] | None:
    """Return the usage point to read, or the two of what was drawn and sent back; None, with the question, if open."""
    points = list(dict.fromkeys(meter.usage_point for meter in meters if unit_of_meter(meter) in ("Wh", "W")))
    if not points and not parsed.meters:
        return (next(iter(parsed.points), ""),)
    names = {point: point.rpartition("/")[2] for point in points}
    titles = [parsed.points.get(point, (0, ""))[1] for point in points]
    if len(set(titles)) == len(titles) and all(titles):
        names = dict(zip(points, titles, strict=True))
    if settings.channel is not None:
        wanted = plain_name(settings.channel)
        for point in points:
            if wanted in (plain_name(names[point]), plain_name(point.rpartition("/")[2])):
                return (point,)
    flows = [{meter.flow for meter in meters if meter.usage_point == point} for point in points]
    both_ways = len(points) == 2 and {"delivered"} in flows and {"received"} in flows
    if len(points) == 1 or both_ways:
        return tuple(points)
    if not points:
        gate.fault("no energy or power is in it", "Download the interval data of the meter.", file=feed.file)
        return None
    gate.fault(
        f"there are {len(points)} usage points in it",
        f"Set channel under [interval] to one of: {', '.join(names.values())}.",
        file=feed.file,
    )
    return None


def _series(meter: Meter, table: FeedLines, lines: Ints, home: ZoneInfo, assumed: Assumptions) -> Series:
    unit = UNITS.get(meter.kind.get("uom", 72), "Wh")
    if "uom" not in meter.kind:
        assumed.add("espi-unit")
    labels = local_seconds(meter.starts, home)
    rows = lines[meter.ordinals] if len(lines) > int(meter.ordinals.max()) else meter.ordinals + 1
    order = np.argsort(meter.starts, kind="stable")
    return Series(
        table,
        "start",
        meter.title or "value",
        0,
        unit,
        meter.flow,
        "start",
        labels[order],
        (labels - meter.starts)[order],
        (meter.values * 10.0 ** max(min(meter.kind.get("powerOfTenMultiplier", 0), 12), -12))[order],
        rows.astype(np.int32)[order],
        estimated=meter.estimated[order] if meter.estimated.any() else None,
        lengths=meter.durations[order] if (meter.durations > 0).all() else None,
        register=is_running_meter(meter),
    )


def _tell_clock(clock: FileClock | None, meters: list[Meter], home: ZoneInfo, assumed: Assumptions) -> None:
    """Say so where the file's own clock is not the house's, in winter or in its changes."""
    if clock is None or not meters:
        return
    first = int(min(meter.starts.min() for meter in meters))
    year = as_day(first // DAY_SECONDS).year
    january = (as_day(0).replace(year=year) - date(1970, 1, 1)).days * DAY_SECONDS
    found = changes(january, january + 366 * DAY_SECONDS, home)
    standard = min([offset_at(january, home), *(change.after for change in found)])
    same = clock.offset == standard
    if same and clock.start is not None and clock.dst_offset:
        spring = next((change for change in found if change.after > change.before), None)
        day = clock.start.on(year)
        same = spring is not None and day == as_day((spring.instant + spring.before) // DAY_SECONDS)
    if not same:
        assumed.add("espi-clock", hours=clock.offset / 3600.0, zone=str(home))


def _billed(summaries: list[Summary], home: ZoneInfo) -> Billed:
    out = Billed()
    for one in sorted(summaries, key=lambda summary: summary.start):
        if one.wh is None or not SHORTEST_BILL <= one.duration <= LONGEST_BILL:
            continue
        bill = _bill(one.start, one.duration, one.wh / 1000.0, home)
        if any(other.start == bill.start for other in out.bills):
            continue
        if one.amount is not None:
            amount = espi_money(one.amount)
            bill = _bill(one.start, one.duration, one.wh / 1000.0, home, amount=amount)
        out.bills.append(bill)
        items = [item for item in one.items if item[0] in ITEM_KINDS]
        out.charges += espi_charges(bill.start, items)
    return out


def _bill(start: int, duration: int, kwh: float, home: ZoneInfo, amount: object = None) -> Bill:
    first, last = (as_day(int(at) // DAY_SECONDS) for at in local_seconds(np.array([start, start + duration]), home))
    return Bill(first, last if last > first else first + timedelta(days=1), kwh, amount=amount)  # type: ignore[arg-type]


def _both(read: list[Bill], summed: list[Bill]) -> list[Bill]:
    """Return bills of readings with the money of the summaries that begin with them, and the other summaries."""
    money = {bill.start: bill for bill in summed}
    bills = [replace(bill, amount=money[bill.start].amount) if bill.start in money else bill for bill in read]
    covered = [bill for bill in summed if not any(b.start < bill.end and bill.start < b.end for b in read)]
    return sorted([*bills, *covered], key=lambda bill: bill.start)


def _long_readings(meter: Meter, home: ZoneInfo) -> list[Bill]:
    """Return readings of weeks or months as bills: what the meter counted in each billing period."""
    factor = 10.0 ** meter.kind.get("powerOfTenMultiplier", 0) / 1000.0
    order = np.argsort(meter.starts, kind="stable")
    return [
        _bill(int(meter.starts[i]), int(meter.durations[i]), float(meter.values[i]) * factor, home)
        for i in order.tolist()
        if np.isfinite(meter.values[i])
    ]


ITEM_KINDS: dict[int, tuple[str, Literal["supply", "delivery", "other"]] | None] = {
    1: ("Generation fee", "supply"),
    2: ("Delivery fee", "delivery"),
    3: ("Usage fee", "other"),
    4: ("Administration fee", "other"),
    5: ("Tax", "other"),
    6: ("Credit", "other"),
    7: ("Credit", "other"),
    8: ("Credit", "other"),
    9: None,
    10: None,
}
"""``itemKind`` of a line (usage.xsd of REQ.21 3.3); payments (9) and information (10) are no charges."""


def espi_money(value: int) -> Decimal:
    """Return an ESPI amount in the currency itself.

    Examples
    --------
    >>> espi_money(17155000)
    Decimal('171.55000')
    """
    return Decimal(value).scaleb(-5)


def espi_charges(start: date, items: Iterable[tuple[int, int, str]]) -> tuple[ChargeLine, ...]:
    """Return charge lines from (itemKind, amount in 1e-5, note) of one bill, each rounded half up to the
    cent.

    Raises
    ------
    ValueError
        Where an item's kind is not in the schema.

    Examples
    --------
    >>> [(c.name, c.amount) for c in espi_charges(date(2025, 1, 1), [(2, 2612500, ""), (9, -100, "paid")])]
    [('Delivery fee', Decimal('26.13'))]
    """
    out = []
    for kind, amount, note in items:
        if kind not in ITEM_KINDS:
            raise ValueError(f"itemKind {kind} is not in the schema; it knows 1 to 10")
        known = ITEM_KINDS[kind]
        if known is not None:
            out.append(ChargeLine(start, note or known[0], cents(espi_money(amount)), part=known[1]))
    return tuple(out)

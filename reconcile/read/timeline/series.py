"""A series of readings of one register: times, values, and where each stands in its file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import field, replace
from datetime import tzinfo
from typing import Any, Literal
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.array_types import Flags, Floats, Ints, Places
from reconcile.house import House
from reconcile.read.household.settings import IntervalSettings, to_zone
from reconcile.read.layouts.interval_channels import Assumptions
from reconcile.read.layouts.interval_names import Flow, Unit
from reconcile.read.layouts.raw_tables import Place
from reconcile.read.tables.cells import shown
from reconcile.read.tables.gate import Gate
from reconcile.records import dataclass

Rows = NDArray[np.int32] | Ints


MOST_BACK = 3 * 3600
"""How far times may go back at a clock change [s]."""
JOINT_ROWS = 50_000_000
"""Rows kept for each file of several that are read as one."""


@dataclass(frozen=True, slots=True)
class ReadContext:
    """What the reading of one house's interval data goes by, and what it takes for granted."""

    gate: Gate
    house: House
    """Its clock, its service and whether it generates."""
    settings: IntervalSettings = field(default_factory=IntervalSettings)
    assumed: Assumptions = field(default_factory=Assumptions)
    zone_given: bool = True
    """Whether the household names its time zone; else the data may tell it."""

    @property
    def home(self) -> ZoneInfo:
        """The house's clock."""
        return ZoneInfo(self.house.timezone)

    @property
    def zone(self) -> tzinfo:
        """The clock of times that carry no distance from UTC."""
        own = None if self.settings.timezone == "house" else to_zone(self.settings.timezone)
        return own or self.home


@dataclass(slots=True)
class JointPlace:
    """Several files in which the readings of one series stand, one after another."""

    places: Sequence[Place]
    file: str = ""
    sheet: str | None = None

    def __post_init__(self) -> None:
        self.file, self.sheet = self.places[0].file, self.places[0].sheet

    def at(self, row: int) -> tuple[Place, int]:
        """Return the file and its own row."""
        return self.places[row // JOINT_ROWS], row % JOINT_ROWS

    def cell(self, row: int, column: int) -> str:
        """Return the text of one cell."""
        place, own = self.at(row)
        return place.cell(own, column)


@dataclass(slots=True)
class Series:
    """Readings of one register from one file."""

    table: Place
    time_name: str
    value_name: str
    value_column: int
    unit: Unit
    flow: Flow | None
    stamps: Literal["start", "end"] | None
    """None where neither the file nor the household says it."""
    labels: Ints
    """Seconds of the file's own clock."""
    offsets: Ints | None
    """Distance from UTC of each [s]; None where none is written."""
    values: Floats
    """As written, in ``unit``; NaN where blank."""
    rows: Rows
    columns: NDArray[np.int16] | None = None
    """Column of each reading, in a table with a row a day."""
    estimated: Flags | None = None
    lengths: Ints | None = None
    """Length of each reading where the file gives it [s]."""
    register: bool = False
    """Whether its name speaks of a running register."""
    order: str = ""
    """Of day and month, where the file settled it."""
    above: Flow | None = None
    """The direction that the lines above its table speak of."""
    intervals: bool = False
    """Whether the values are said to be the energy of intervals, so that rising ones raise no question."""
    label: Callable[[int], str] | None = None
    """What a row is called where its number is not its name: the time of a reading in a frame."""
    utc: bool = False
    """Whether the file says that its times are those of UTC."""
    unit_from: Literal["household", "file", "nothing"] = "file"
    """What told the unit; nothing, where it is only the usual one."""

    def instants(self) -> Ints:
        """Return the times of the readings, of UTC where they say how far they are from it, else of their own clock."""
        return self.labels if self.offsets is None else self.labels - self.offsets

    def wrong(
        self,
        gate: Gate,
        problem: str,
        remedy: str,
        index: int | None = None,
        *,
        time: bool = False,
        column: str | None = None,
    ) -> None:
        """Record a fault of the file, or of the reading at ``index``, whose cell is quoted as it stands."""
        row: int | str | None = None
        read = None
        file, sheet = self.table.file, self.table.sheet
        if index is not None:
            file, sheet, row = self.spot(index)
            at = self.value_column if self.columns is None else int(self.columns[index])
            column = self.time_name if time else self.value_name
            read = None if time else shown(self.table.cell(int(self.rows[index]), at))
            if time:
                read = str(self.labels[index].astype("datetime64[s]")).replace("T", " ")
        gate.fault(problem, remedy, file=file, sheet=sheet, row=row, column=column, read=read)

    def spot(self, index: int) -> tuple[str, str | None, int | str]:
        """Return the file, the sheet and the row in which a reading stands."""
        row = int(self.rows[index])
        if self.label is not None:
            return self.table.file, self.table.sheet, self.label(row)
        place, own = self.table.at(row) if isinstance(self.table, JointPlace) else (self.table, row)
        return place.file, place.sheet, own

    def part(self, keep: Flags | Places) -> Series:
        """Return some of the readings."""

        def cut(values: Any) -> Any:
            return None if values is None else values[keep]

        arrays = ("labels", "offsets", "values", "rows", "columns", "estimated", "lengths")
        return replace(self, **{name: cut(getattr(self, name)) for name in arrays})


def oldest_first(series: Series) -> Series:
    """Return the series with its oldest reading first."""
    falls = np.count_nonzero(series.labels[1:] < series.labels[:-1])
    return series.part(np.arange(len(series.labels))[::-1]) if falls > len(series.labels) / 2 else series


def joined(found: Sequence[Series]) -> list[Series]:
    """Return series with those of one register that follow one another, in files of their own, brought together."""
    groups: dict[tuple[object, ...], list[Series]] = {}
    for one in found:
        given = tuple(getattr(one, name) is None for name in ("offsets", "columns", "lengths"))
        key = (one.unit, one.flow, one.value_name, one.time_name, one.stamps, one.register, *given)
        groups.setdefault(key, []).append(one)
    out = []
    for group in groups.values():
        chains: list[list[Series]] = []
        for one in sorted((one for one in group if len(one.labels)), key=lambda one: int(one.labels.min())):
            chain = chains[-1] if chains else None
            if chain is not None and _follows(chain, one):
                chain.append(one)
            else:
                chains.append([one])
        out += [_chained(chain) if len(chain) > 1 else chain[0] for chain in chains]
    return out


def _follows(chain: Sequence[Series], one: Series) -> bool:
    before = chain[-1]
    below = one.table.file == before.table.file and int(one.rows[0]) > int(before.rows[-1])
    local = one.offsets is None and int(one.labels.min()) > int(before.labels.min())
    back = MOST_BACK if below and local else -1  # a table may end within the hour that the clock repeats
    if int(one.labels.min()) < int(before.labels.max()) - back:
        return False
    steps = [_usual(series) for series in (*chain, one) if len(series.labels) > 1 or series.lengths is not None]
    return len(set(steps)) <= 1


def _usual(series: Series) -> int:
    if series.lengths is not None:
        return int(np.median(series.lengths))
    return int(np.median(np.abs(np.diff(series.labels[:2000]))))


def flags_together(parts: Sequence[tuple[Flags | None, int]]) -> Flags | None:
    """Return flags of several stretches, each with its length, as one; None where none has any."""
    if all(flags is None for flags, _ in parts):
        return None
    return np.concatenate([np.zeros(length, dtype=bool) if flags is None else flags for flags, length in parts])


def _chained(chain: Sequence[Series]) -> Series:
    def together(name: str) -> Any:
        parts = [getattr(one, name) for one in chain]
        return None if parts[0] is None else np.concatenate(parts)

    flags = flags_together([(one.estimated, len(one.labels)) for one in chain])
    made = {name: together(name) for name in ("labels", "offsets", "values", "columns", "lengths")}
    rows = np.concatenate([one.rows.astype(np.int64) + JOINT_ROWS * n for n, one in enumerate(chain)])
    return replace(chain[0], table=JointPlace([one.table for one in chain]), rows=rows, estimated=flags, **made)

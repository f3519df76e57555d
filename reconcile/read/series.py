"""A series of readings of one register: times, values, and where each stands in its file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from reconcile.read.cells import shown
from reconcile.read.gate import Gate
from reconcile.read.interval_names import Flow, Unit
from reconcile.read.raw_tables import Place

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Rows = NDArray[np.int32]


@dataclass(slots=True)
class Series:
    """Readings of one register from one file.

    Attributes
    ----------
    table : Place
    time_name, value_name : str
    value_column : int
    unit : Unit
    flow : Flow or None
    stamps : {'start', 'end'} or None
        None where neither the file nor the household says it.
    labels : ndarray of int64
        Seconds of the file's own clock.
    offsets : ndarray of int64 or None
        Distance from UTC of each [s]; None where none is written.
    values : ndarray
        As written, in ``unit``; NaN where blank.
    rows : ndarray of int32
    columns : ndarray of int16 or None
        Column of each reading, in a table with a row a day.
    estimated : ndarray of bool or None
    lengths : ndarray of int64 or None
        Length of each reading where the file gives it [s].
    register : bool
        Whether its name speaks of a running register.
    order : str
        Of day and month, where the file settled it.
    """

    table: Place
    time_name: str
    value_name: str
    value_column: int
    unit: Unit
    flow: Flow | None
    stamps: Literal["start", "end"] | None
    labels: Ints
    offsets: Ints | None
    values: Floats
    rows: Rows
    columns: NDArray[np.int16] | None = None
    estimated: NDArray[np.bool_] | None = None
    lengths: Ints | None = None
    register: bool = False
    order: str = ""

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
        row = read = None
        if index is not None:
            row = int(self.rows[index])
            at = self.value_column if self.columns is None else int(self.columns[index])
            column = self.time_name if time else self.value_name
            read = None if time else shown(self.table.cell(row, at))
            if time:
                read = str(self.labels[index].astype("datetime64[s]")).replace("T", " ")
        gate.fault(problem, remedy, file=self.table.file, sheet=self.table.sheet, row=row, column=column, read=read)

    def part(self, keep: NDArray[np.bool_] | NDArray[np.intp]) -> Series:
        """Return some of the readings."""

        def cut(values: Any) -> Any:
            return None if values is None else values[keep]

        arrays = ("labels", "offsets", "values", "rows", "columns", "estimated", "lengths")
        return replace(self, **{name: cut(getattr(self, name)) for name in arrays})


def oldest_first(series: Series) -> Series:
    """Return the series with its oldest reading first."""
    falls = np.count_nonzero(series.labels[1:] < series.labels[:-1])
    return series.part(np.arange(len(series.labels))[::-1]) if falls > len(series.labels) / 2 else series

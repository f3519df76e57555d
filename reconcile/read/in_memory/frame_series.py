"""Interval data in a series or a frame of pandas, as the series of readings that files are read into."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal, get_args
from zoneinfo import ZoneInfo

import numpy as np

from reconcile.array_types import Floats
from reconcile.clock import offsets_at
from reconcile.house import House, Interval
from reconcile.read.household.settings import to_zone
from reconcile.read.in_memory.frame_values import plain, shaped
from reconcile.read.layouts.cell_kinds import LayoutError
from reconcile.read.layouts.interval_channels import Register, choose
from reconcile.read.layouts.interval_layout import Values
from reconcile.read.layouts.interval_names import flow_of, is_register, is_time, part_of, unit_of
from reconcile.read.tables.cells import shown
from reconcile.read.tables.gate import Gate
from reconcile.read.timeline.interval_table import interval_of
from reconcile.read.timeline.series import ReadContext, Series
from reconcile.records import dataclass

if TYPE_CHECKING:
    import pandas as pd

FILE = "interval series"
Given = Literal["kWh", "Wh", "MWh", "kW", "W"]


@dataclass(slots=True)
class _Frame:
    """Where readings stand: columns of numbers, a row each."""

    columns: list[Floats]
    file: str = FILE
    sheet: str | None = None

    def cell(self, row: int, column: int) -> str:
        """Return the text of one cell."""
        return shown(float(self.columns[column][row]))


def interval_of_frame(data: Any, unit: Given | None, gate: Gate, house: House | None) -> Interval | None:
    """Read energy by instants, through the gate of interval files; None where something is wrong.

    Parameters
    ----------
    data : Series or DataFrame
        With a DatetimeIndex, or one column of times, that carries its zone.
    unit : {'kWh', 'Wh', 'MWh', 'kW', 'W'} or None
        Of the values; None for what the names of the columns say, else kWh.
    house : House or None
        Whose clock and service the readings are held against; None where it is not known.
    """
    before = len(gate.faults)
    if unit is not None and unit not in get_args(Given):
        gate.fault(
            "this is no unit of interval data", 'Write "kWh", "Wh", "MWh", "kW" or "W".', file=FILE, read=str(unit)
        )
    framed = _framed(data, gate)
    if framed is None or len(gate.faults) > before:
        return None
    zone = framed.index.tz  # type: ignore[attr-defined]
    home = house if house is not None else House(FILE, (), timezone=_named(zone))
    context = ReadContext(gate, home)
    found = _series(framed, unit, context)
    if len(gate.faults) > before:
        return None
    return interval_of(found, context, served=house is not None)


def _named(zone: Any) -> str:
    """A zone by a name that the house's clock may have; UTC where it has none."""
    return str(zone) if isinstance(to_zone(str(zone)), ZoneInfo) else "UTC"


def _framed(data: Any, gate: Gate) -> pd.DataFrame | None:
    """Return the data as a frame of columns by instants, in their order; None where they are none."""
    data = shaped(data, FILE, gate)
    if getattr(data, "ndim", None) == 1 and hasattr(data, "to_frame") and hasattr(data, "index"):
        frame: pd.DataFrame = data.to_frame(name="energy" if data.name is None else data.name)
    elif hasattr(data, "columns") and hasattr(data, "set_index"):
        kinds = [(at, str(name), data.dtypes.iloc[at].kind) for at, name in enumerate(data.columns)]
        times = [at for at, name, kind in kinds if kind == "M" or is_time(name)]
        by_time = hasattr(data.index, "asi8") or len(times) != 1
        rest = [at for at, _, _ in kinds if by_time or at != times[0]]
        frame = data if by_time else data.iloc[:, rest].set_axis(data.iloc[:, times[0]], axis=0)
        if not rest:
            gate.fault("there is no column of values", "Give a column of kWh.", file=FILE)
            return None
    else:
        gate.fault("this is no series", "Give a Series of kWh by instants, or an Interval.", file=FILE)
        return None
    index: Any = frame.index
    if not hasattr(index, "asi8") and len(index) and all(hasattr(one, "to_pydatetime") for one in index):
        index = _as_times(index)
        frame = frame.set_axis(index, axis=0)
    if not hasattr(index, "tz") or not hasattr(index, "asi8"):
        gate.fault("its index holds no times", "Give a Series with a DatetimeIndex.", file=FILE)
    elif index.hasnans:
        at = int(np.argmax(np.asarray(index.isna())))
        gate.fault("this row has no time", "Take it out, or give its time.", file=FILE, row=f"number {at + 1}")
    elif index.tz is None:
        gate.fault(
            "its times do not say of which zone they are",
            'Localize the index first: series.tz_localize("America/Chicago").',
            file=FILE,
        )
    elif not index.is_monotonic_increasing:
        gate.notice("Interval series: its times do not rise; the readings were put in order.")
        frame = frame.sort_index(kind="stable")
    return frame


def _as_times(index: Any) -> Any:
    """An index that holds instants one by one, or as another library keeps them, as one of times."""
    import pandas as pd

    try:
        return pd.DatetimeIndex(index)
    except (TypeError, ValueError):  # some of them in one zone and some in another
        return pd.to_datetime(index, utc=True)


def _series(frame: pd.DataFrame, unit: Given | None, context: ReadContext) -> list[Series]:
    index: Any = frame.index
    instants = index.tz_convert("UTC").tz_localize(None).to_numpy().astype("datetime64[s]").astype(np.int64)
    names = [str(column) for column in frame.columns]
    values = [Values(at, name, unit_of(name), flow_of(name), part_of(name)) for at, name in enumerate(names)]
    offsets = offsets_at(instants, index.tz)
    place = _Frame([_numbers(frame.iloc[:, at], names[at], index, context.gate) for at in range(len(names))])
    try:
        chosen = choose(values, None, context.assumed)
    except LayoutError as error:
        listed = ", ".join(names[:5]) + (" ..." if len(names) > 5 else "")
        context.gate.fault(
            f"{error.problem} ({listed})",
            'Give the one that is the house\'s, as frame["kwh"], or name them "delivered" and "received".',
            file=FILE,
        )
        return []
    volts = [] if chosen.volts is None else [Register((chosen.volts,), None)]
    return [
        Series(
            place,
            str(index.name or "time"),
            register.name,
            register.parts[0].column,
            "V" if register in volts else unit or register.parts[0].unit or "kWh",
            register.flow,
            "start",
            instants + offsets,
            offsets,
            np.sum([place.columns[part.column] for part in register.parts], axis=0),
            np.arange(len(instants), dtype=np.int64),
            register=is_register(register.name),
            intervals=not is_register(register.name),
            label=lambda row: str(index[row]),
            unit_from="household" if unit else "file" if register.parts[0].unit else "nothing",
        )
        for register in (*chosen.registers, *volts)
    ]


def _numbers(column: Any, name: str, index: Any, gate: Gate) -> Floats:
    """Return a column as numbers, NaN where blank."""
    if column.dtype.kind in "if" and isinstance(column.dtype, np.dtype):
        numbers: Floats = column.to_numpy(dtype=float)
    else:
        numbers = np.full(len(column), np.nan)
        for row, value in enumerate(map(plain, column)):
            if isinstance(value, str | bool) or not hasattr(value, "__float__"):
                if value is not None:
                    _wrong("this is not a number", "Give numbers.", row, value, name, index, gate)
            else:
                numbers[row] = float(value)
    for row in np.flatnonzero(np.isinf(numbers)).tolist():
        _wrong("this is not a finite number", "Leave it out, or give its value.", row, numbers[row], name, index, gate)
    return numbers


def _wrong(problem: str, remedy: str, row: int, value: Any, name: str, index: Any, gate: Gate) -> None:
    gate.fault(problem, remedy, file=FILE, row=str(index[row]), column=name, read=shown(value))

"""Frames, and values of pandas, numpy and pint, as the readers of files know them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime, tzinfo
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from reconcile.house import plain_value
from reconcile.read.tables.gate import Gate

if TYPE_CHECKING:
    import pandas as pd


def plain(value: Any) -> Any:
    """Return a value as a cell of a file holds it; None where it is missing.

    Examples
    --------
    >>> import numpy as np
    >>> plain(np.float64(3.0)), plain(float("nan")), plain(np.datetime64("2025-03-07"))
    (3.0, None, datetime.date(2025, 3, 7))
    """
    if hasattr(value, "magnitude") and hasattr(value, "units"):
        return _written(value)
    if hasattr(value, "to_pydatetime"):
        value = value.to_pydatetime(warn=False)
    elif hasattr(value, "to_timestamp"):  # a pandas Period: its text is a month or a day
        return str(value)
    value = plain_value(value)
    if isinstance(value, bytes):
        return value.decode("utf-8", "replace")
    if hasattr(value, "tolist") and getattr(value, "ndim", 0) > 0:
        return value.tolist()
    if isinstance(value, Fraction):
        return float(value)
    if isinstance(value, datetime):
        return plain_value(value.replace(tzinfo=None))
    if isinstance(value, str | Sequence | Mapping):
        return value
    return None if _missing(value) else value


def _missing(value: Any) -> bool:
    try:
        return bool(value != value)
    except ArithmeticError:  # a signaling NaN
        return True
    except (TypeError, ValueError):  # more than one value, or none that compares
        return False


def _written(quantity: Any) -> Any:
    """A quantity of pint as one writes it: ``1.5 kW``."""
    number = plain(quantity.magnitude)
    unit = f"{quantity.units:~C}"
    return number if number is None or not unit else f"{number!r} {unit}"


def settled(value: Any) -> Any:
    """Return an argument as the settings file holds it: missing values are left out, at any depth.

    Examples
    --------
    >>> import numpy as np
    >>> settled([{"digits": np.int64(5), "form": float("nan")}])
    [{'digits': 5}]
    """
    if isinstance(value, Mapping):
        made = {str(key): settled(item) for key, item in value.items()}
        return {key: item for key, item in made.items() if item is not None}
    if isinstance(value, list | tuple | set | frozenset):
        return [settled(item) for item in value]
    if hasattr(value, "tolist") and getattr(value, "ndim", None) != 0 and hasattr(value, "__len__"):
        return settled(value.tolist())
    return plain(value)


def on_clock(values: Sequence[Any], zone: tzinfo | None, gate: Gate, file: str, column: str) -> list[Any]:
    """Return a column with its instants, where it has any, as times of the house's clock.

    Midnights of another zone, where every one of them is one, are days that were written down as such: they stay those
    days. Midnights of the house held in another zone, and any other instants, are times of the house.

    Parameters
    ----------
    values : sequence
        Of one column.
    zone : tzinfo or None
        The house's clock; None where it is not known, and instants keep their own.
    gate : Gate
        Told what was taken.
    file, column : str
        Where they stand.
    """
    at = [n for n, value in enumerate(values) if isinstance(value, datetime) and value.tzinfo and value == value]
    out = list(values)
    if not at:
        return out
    own = [values[n] for n in at]
    name = str(own[0].tzinfo)
    here = own if zone is None else [value.astimezone(zone) for value in own]
    where = f"{file}, column {column}"
    if all(map(_midnight, own)) and (zone is None or not all(map(_midnight, here))):
        gate.notice(f"{where}: its times are midnights of {name}; they were taken as days.")
        here = own
    elif zone is not None and str(zone) != name:
        gate.notice(f"{where}: its times are of {name}; the clock of {zone} was taken.")
    elif zone is None and own[0].utcoffset() == UTC.utcoffset(None):
        gate.fault(
            f"its times are of {name} and no midnights, and the house's own clock is not known",
            'Give timezone="America/Chicago" (the house\'s own), or convert them with tz_convert.',
            file=file,
            column=column,
        )
    elif zone is None:
        gate.notice(f"{where}: its times are of {name}; the days of that clock were taken.")
    for n, value in zip(at, here, strict=True):
        out[n] = value.replace(tzinfo=None)
    return out


def _midnight(value: datetime) -> bool:
    return (value.hour, value.minute, value.second) == (0, 0, 0)


BY_DATE = ("weather", "events", "readings")
"""Tables with one column of days, which an index of days without a name is taken for."""


def is_series(given: Any) -> bool:
    """Whether this is a series of pandas."""
    return hasattr(given, "items") and hasattr(given, "index") and hasattr(given, "to_numpy") and given.ndim == 1


def is_frame(given: Any) -> bool:
    """Whether this is a frame of pandas."""
    return hasattr(given, "columns") and hasattr(given, "itertuples") and hasattr(given, "index")


def shaped(given: Any, file: str, gate: Gate) -> Any:
    """Return rows or columns as a frame, and values by days as a series; anything else as it is.

    Parameters
    ----------
    given : object
        A mapping of names to columns, or of days to values; dicts or named tuples, a row each; records of numpy; what
        turns itself into a frame. A frame of several levels of columns is given one, where only one says something.
    file : str
        As faults call it.
    """
    import pandas as pd

    if isinstance(given, Iterator):
        given = list(given)
    if is_frame(given):
        return _one_level(given, file, gate)
    if is_series(given):
        return given
    try:
        if hasattr(given, "to_pandas"):
            return given.to_pandas()
        if getattr(getattr(given, "dtype", None), "names", None):
            return pd.DataFrame.from_records(given)
        if isinstance(given, Mapping):
            if not all(isinstance(key, str) for key in given):
                return pd.Series(dict(given))
            several = any(_is_column(value) for value in given.values())
            return pd.DataFrame(dict(given)) if several else pd.DataFrame.from_records([dict(given)] if given else [])
    except ValueError:
        gate.fault("its columns are not of one length", "Give as many values in each.", file=file)
        return None
    if isinstance(given, Sequence) and given and not isinstance(given, str | bytes):
        rows = [row._asdict() if hasattr(row, "_asdict") else row for row in given]
        if all(isinstance(row, Mapping) for row in rows):
            return pd.DataFrame.from_records([dict(row) for row in rows])
    return given


def _is_column(value: Any) -> bool:
    return hasattr(value, "__len__") and not isinstance(value, str | bytes | Mapping) and getattr(value, "ndim", 1) > 0


def _one_level(frame: pd.DataFrame, file: str, gate: Gate) -> pd.DataFrame | None:
    columns = frame.columns
    if columns.nlevels == 1:
        return frame
    levels = [[str(name).strip() for name in columns.get_level_values(n)] for n in range(columns.nlevels)]
    telling = [names for names in levels if len(set(names)) > 1]
    if len(telling) > 1 or (not telling and len(columns) > 1):
        gate.fault(
            "its columns have names on several levels",
            "Keep the level that names them: frame.columns = frame.columns.get_level_values(0).",
            file=file,
        )
        return None
    return frame.set_axis(telling[0] if telling else levels[-1], axis=1)


def columns_of(name: str, frame: pd.DataFrame, gate: Gate) -> tuple[list[str], list[list[Any]]]:
    """Return names and values of the columns of a frame, those of its index first.

    Parameters
    ----------
    name : str
        Of the table.
    gate : Gate
        Told of an index of days that is not read.
    """
    header = [str(column) for column in frame.columns]
    columns = [list(frame.iloc[:, at]) for at in range(len(header))]
    index: Any = frame.index
    found: list[tuple[Any, Any]] = [(index.names[n], index.get_level_values(n)) for n in range(index.nlevels)]
    if hasattr(index, "closed"):  # intervals of days
        found = [("start", index.left), ("end", index.right)]
    elif hasattr(index, "asi8") and index.name is None:
        if name in BY_DATE:
            found = [("date", index)]
        elif getattr(index, "freqstr", None) == "M":
            found = [("month", index)]
        else:
            gate.notice(f"{name.capitalize()} frame, not read: its index of days, which has no name.")
    own = [(str(label), list(values)) for label, values in found if label is not None and str(label) not in header]
    return [label for label, _ in own] + header, [values for _, values in own] + columns

"""What people hold their tables in: frames of any index, columns by name, rows by row; each as a frame or a series."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from reconcile.read.tables.gate import Gate

if TYPE_CHECKING:
    import pandas as pd

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
    gate : Gate
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
    frame : DataFrame
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

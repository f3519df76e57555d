"""Where a key of the settings is written, in the words of the form that somebody uses."""

from __future__ import annotations

import re
from typing import Literal

_KEY = re.compile(
    r'(?P<set>[Ss]et |[Ww]rite )?(?P<key>[a-z_]+)(?: = (?P<value>"[^"]*"|true|[\d.]+))?'
    r'(?: \(or (?P<or>"[^"]*")\))? under \[(?P<table>[a-z]+)\](?: \(or (?P<or2>"[^"]*")\))?(?: in house\.toml)?'
)

_TABLE = re.compile(r"Write (?:it|each) as (?P<open>\[{1,2})(?P<path>[a-z_]+)\]{1,2}\.")

_SERIES = {
    "unit": "unit: Interval.from_series(..., unit='Wh')",
    "channel": "give the one column that is the house's",
    "stamps": "give the times at which intervals begin",
    "timezone": "localize the index",
}
"""What of a series of pandas stands in place of a key of ``[interval]``."""


def where_written(remedy: str, settings_in: Literal["file", "sheet", "arguments"]) -> str:
    """Return a remedy that names a key of the settings file in the words of a workbook, or of Python.

    Parameters
    ----------
    remedy : str
        As it is said of the file.
    settings_in : {'file', 'sheet', 'arguments'}

    Returns
    -------
    str

    Examples
    --------
    >>> where_written('Set temperature_unit = "F" under [house].', "sheet")
    'On the sheet house, in the row house.temperature_unit, write F.'
    >>> where_written('Set temperature_unit = "F" under [house] (or "C").', "arguments")
    'Give temperature_unit="F" (or "C").'
    >>> where_written("A larger service is told by service_amps under [house].", "sheet")
    'A larger service is told by house.service_amps on the sheet house.'
    >>> where_written("Write each as [[meter]].", "arguments"), where_written("Write it as [band].", "arguments")
    ('Give a list of dicts: meter=[{...}].', 'Give a dict: band={...}.')
    """
    if settings_in == "arguments":
        remedy = _TABLE.sub(_given, remedy)
    if settings_in == "file" or " under [" not in remedy:
        return remedy
    return _KEY.sub(lambda found: _said(found, settings_in), remedy)


def _given(found: re.Match[str]) -> str:
    several = found["open"] == "[["
    return f"Give {'a list of dicts' if several else 'a dict'}: {found['path']}={'[{...}]' if several else '{...}'}."


def _said(found: re.Match[str], settings_in: str) -> str:
    key, table, value, verb = found["key"], found["table"], found["value"], found["set"] or ""
    other = found["or"] or found["or2"]
    capital = verb[:1].isupper()
    if settings_in == "arguments" and table == "interval":
        return _SERIES[key]
    if settings_in == "arguments":
        given = key if table in ("house", "bills") else f"{table}={{'{key}': ...}}"
        if value is not None and table in ("house", "bills"):
            given = f"{key}={'True' if value == 'true' else value}"
        verb = ("Give " if capital else "give ") if verb else ""
        return f"{verb}{given}" + (f" (or {other})" if other else "")
    if not verb:
        return f"{table}.{key} on the sheet house"
    place = f"{'On' if capital else 'on'} the sheet house, in the row {table}.{key}, write "
    plain = value.strip('"') if value is not None else "its value"
    return place + plain + (f" (or {other.strip(chr(34))})" if other else "")

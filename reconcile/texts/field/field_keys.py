"""Every key of ``field_test.toml`` once: its words on the sheets, its meaning, an example, other names it is known by.

The reader takes the words for the key, the workbook heads its columns with them, and the page on the field test lists
them all.
"""

from __future__ import annotations

import re

from reconcile.records import dataclass


@dataclass(frozen=True, slots=True)
class Key:
    """One key of the field test."""

    name: str
    """As it is written in the file."""
    words: str
    """As the sheets and the workbook call it."""
    meaning: str
    example: str
    """A value as TOML."""
    also: tuple[str, ...] = ()
    """Other names people write for it."""


SHOWN: tuple[Key, ...] = (
    Key("meter_kw", "meter kW", "kW on the meter's display; repeats as a list", "5.38", ("display kw", "meter power")),
    Key("seconds", "seconds", "how long was counted, in seconds", "600.4", ("time s", "duration", "time seconds")),
    Key(
        "pulses", "flashes", "flashes of the meter's light in that time, the first called 0", "267",
        ("pulse", "blinks", "flash count", "pulse count", "flashes counted"),
    ),
    Key("turns", "turns", "turns of the disk in that time, the first mark called 0", "37", ("revolutions",)),
    Key("register_start", "kWh at start", "register when it began, in kWh", "48213.4", ("register before",)),
    Key("register_end", "kWh at end", "register when it ended, in kWh", "48214.1", ("register after",)),
    Key(
        "counted", "how counted", "`pulse-to-pulse`: watch started and stopped on a count; `in-a-time`: a fixed time",
        '"pulse-to-pulse"', ("counting",),
    ),
)  # fmt: skip
RUN: tuple[Key, ...] = (
    Key("label", "run", "what was run; repeats carry one label", '"space heater, high"', ("load name", "name", "test")),
    Key("date", "date", "day of the reading", "2025-11-20"),
    Key("service", "service", "only where the house's own is not written under `[house]`", '"split-phase"'),
    *SHOWN,
    Key("meter_volts", "meter V", "volts on the meter's display, under load", "237.0", ("display volts",)),
    Key("legs", "legs", "one entry a leg, in one order: see below", "[{volts = 119.7, amps = 21.76}, ...]"),
    Key(
        "connection", "load is wired", "`line-to-line` (240 V or 208 V loads) or `line-to-neutral` (what plugs in)",
        '"line-to-neutral"', ("wiring", "load connection"),
    ),
    Key("line_volts", "volts between legs", "where no leg's own volts were read", "239.1", ("leg to leg volts",)),
    Key("volts_were_loaded", "volts read under load", "false where the volts were read without the load", "true"),
    Key("clamps", "clamps on", "`main`: service wires; `load`: the load's own wires", '"main"', ("clamp place",)),
    Key(
        "background_w_before", "house W before", "what the house drew with the load off, before; readings as a list", "150",
        ("background w", "background before", "background", "background watts before", "house watts before"),
    ),
    Key(
        "background_w_after", "house W after", "the same after the run", "152",
        ("background after", "background watts after", "house watts after"),
    ),
    Key(
        "reference_watts", "plug-in W", "watts on the plug-in meter in the run, all as a list or their mean", "1450",
        ("plug-in watts", "plug in w mean", "plug-in W (mean)", "reference w", "load watts"),
    ),
    Key("reference_kwh", "plug-in kWh", "or the kWh it counted in those seconds", "0.2419", ("reference energy",)),
    Key("outlet_volts_off", "outlet V off", "volts on the plug-in meter with the load off", "121.8", ("volts off",)),
    Key("outlet_volts_on", "outlet V on", "and with the load on", "119.4", ("volts on",)),
    Key("load", "test point", "`light`, `full` or `other`; by the meter's test amps where they are known", '"full"'),
    Key("note", "note", "anything else", '"refrigerator switched off"', ("remark", "notes")),
)  # fmt: skip
LEG: tuple[Key, ...] = (
    Key("volts", "V", "volts of this leg to neutral, under load", "119.7", ("v",)),
    Key("amps", "A", "amps of this leg at the same moment", "21.76", ("a", "current")),
    Key("power_factor", "PF", "the load's own power factor, where it is not 1", "1.0"),
    Key("leg_power_factor", "own PF", "or the power factor measured on the leg itself", "0.866"),
)
CLOCK: tuple[Key, ...] = (
    Key(
        "time_start", "evening time", "clock time of the first reading, in place of the seconds of an hour or more",
        '"22:40"', ("time at start", "start time", "time before", "time evening"),
    ),
    Key(
        "time_end", "morning time", "clock time of the second, within a day of the first", '"06:55"',
        ("time at end", "end time", "time after", "time morning"),
    ),
)  # fmt: skip
QUIET: tuple[Key, ...] = (
    RUN[1], *SHOWN, *CLOCK,
    Key("on", "left on", "loads that stayed on, as the list of loads names them", '["Refrigerator"]', ("still on",)),
    RUN[-1],
)  # fmt: skip
MAIN_OFF: tuple[Key, ...] = (
    RUN[1], *SHOWN,
    Key("all_disconnects_off", "every disconnect off", "whether all of them were off", "true", ("all off",)),
    Key("generation_off", "own generation off", "solar, battery, generator, car", "true", ("solar off",)),
    Key("service_underground", "wires underground", "how the utility's wires come", "false", ("underground",)),
    RUN[-1],
)  # fmt: skip
INSTRUMENT: tuple[Key, ...] = (
    Key("kind", "kind", "a typical class of the table below, where the leaflet is not at hand", '"plug-in meter"'),
    Key("percent_of_reading", "% of reading", "from its leaflet", "2.0", ("accuracy", "percent")),
    Key("percent_of_range", "% of range", "from its leaflet; needs `range`", "0.5"),
    Key("range", "range", "full scale, in the instrument's unit", "400"),
    Key("digits", "digits", "from its leaflet; needs `resolution`", "5", ("counts",)),
    Key("resolution", "one digit", "its last digit, in the instrument's unit", "0.01"),
    Key("resolution_kwh", "one digit of kWh", "last digit of the kWh that a plug-in meter shows", "0.01"),
    Key("min_amps", "lowest A", "lowest current a clamp is specified for", "0.5"),
    Key("category", "category", "printed beside its jacks", '"CAT III 600 V"', ("cat",)),
    Key("name", "make and model", "as printed on it", '"bench clamp"'),
    Key("serial", "serial number", "as printed on it", '"0417"', ("serial no", "sn")),
    Key("calibrated", "calibrated on", "day of its last calibration", "2025-04-02", ("calibration date",)),
)
TIME: tuple[Key, ...] = (Key("seconds", "watch, s", "how well a watch is started and stopped by hand", "0.3"),)
DISPLAY: tuple[Key, ...] = (
    Key("step_kw", "last digit of kW", "smallest step of the kW that the meter shows", "0.01"),
    Key("step_volts", "last digit of volts", "smallest step of the volts it shows", "1.0"),
    Key(
        "count_wh",
        "Wh a flash or turn",
        "Kt or Kh on the meter's face, in Wh; only where the house's file has none",
        "1.0",
        ("kt", "kh", "pulse_wh", "disk_wh", "wh a flash", "wh a turn", "one flash is worth"),
    ),
)
INTERVAL_RUN: tuple[Key, ...] = (
    Key("date", "date", "date on which the night's hours begin; past midnight the hours go on over 24", "2025-11-03"),
    Key("from_hour", "from hour", "clock hour of switching on, 1.5 is 1:30", "1.0", ("start hour",)),
    Key("hours", "hours", "time on", "1.0", ("hours on",)),
    Key("kwh", "heater kWh", "what the plug-in meter counted in that time", "1.483", ("kwh of heater",)),
    Key("note", "note", "free text", '"heater on high"', ("remark",)),
)
BRANCH: tuple[Key, ...] = (
    RUN[1],
    Key("circuit", "circuit", "as it is written beside the breaker", '"7 shed"', ("breaker", "branch")),
    Key(
        "fell_watts", "fell by, W", "by how many watts the meter slowed with this breaker off; 0 where it did not", "340",
        ("fell by", "fell", "fall W", "watts fell by"),
    ),
    Key(
        "unplugged", "all unplugged", "whether everything on the circuit was unplugged or switched off then", "true",
        ("everything unplugged",),
    ),
    RUN[-1],
)  # fmt: skip
RECORD: tuple[Key, ...] = (
    Key("person", "read by", "who read", '"A. Reader"', ("name", "reader")),
    Key("license", "license", "the electrician's license, where one is needed", '"E-1234"', ("licence",)),
    Key("employer", "firm", "whose safety rules hold", '"Elm Street Electric"', ("company",)),
    Key("started", "start time", "time of day", '"14:05"', ("time",)),
    Key("ended", "end time", "time of day", '"16:20"'),
)

PLACES: dict[str, str] = {
    "record": "record",
    "instrument.watts": "plug-in meter",
    "instrument.volts": "voltmeter",
    "instrument.amps": "clamp",
    "instrument.time": "watch",
    "display": "meter's display",
}
"""What the workbook calls the tables that stand above its runs."""

TABLES: dict[str, tuple[Key, ...]] = {
    "record": RECORD,
    "instrument.volts": INSTRUMENT,
    "instrument.amps": INSTRUMENT,
    "instrument.watts": INSTRUMENT,
    "instrument.time": TIME,
    "display": DISPLAY,
    "run": RUN,
    "run.legs": LEG,
    "quiet": QUIET,
    "main_off": MAIN_OFF,
    "interval_run": INTERVAL_RUN,
    "branch": BRANCH,
}
"""Every table of the file and its keys."""


def plain(name: str) -> str:
    """Return a name as it is matched: letters and digits only.

    Examples
    --------
    >>> plain("plug-in W (mean)")
    'pluginwmean'
    """
    return re.sub(r"[^a-z0-9]+", "", name.casefold())


def key_of(table: str, written: str) -> str | None:
    """Return the key of a table that a name stands for: the key itself, its words, or another name of it.

    Parameters
    ----------
    table : str
        One of :data:`TABLES`.

    Returns
    -------
    str or None
        None where nothing of the table is called so.

    Examples
    --------
    >>> key_of("run", "plug-in W"), key_of("run", "Flashes"), key_of("run", "colour")
    ('reference_watts', 'pulses', None)
    """
    wanted = plain(written)
    for key in TABLES[table]:
        if wanted in (plain(key.name), plain(key.words)):
            return key.name
    for key in TABLES[table]:
        if wanted in map(plain, key.also):
            return key.name
    return None


def path_of(written: str) -> str | None:
    """Return the path of a key above the runs of a workbook: the path itself, or ``place: words``.

    Examples
    --------
    >>> path_of("plug-in meter: % of reading"), path_of("display.step_kw"), path_of("colour")
    ('instrument.watts.percent_of_reading', 'display.step_kw', None)
    """
    place, _, words = written.partition(":")
    for table, said in PLACES.items():
        if words and plain(place) == plain(said):
            name = key_of(table, words)
            return None if name is None else f"{table}.{name}"
    table, _, name = written.strip().rpartition(".")
    return written.strip() if any(key.name == name for key in TABLES.get(table, ())) else None


def leg_column(written: str) -> tuple[str, int] | None:
    """Return the key and the number of a leg's column: ``amps_1``, ``leg 1 A``, ``V2``, ``L1 volts``.

    Examples
    --------
    >>> leg_column("amps_1"), leg_column("leg 2 V"), leg_column("A3"), leg_column("meter V")
    (('amps', 1), ('volts', 2), ('amps', 3), None)
    """
    wanted = plain(written)
    found = re.fullmatch(r"(?:leg|l)?([1-3])([a-z]+)", wanted) or re.fullmatch(r"(?:leg|l)?([a-z]+?)([1-3])", wanted)
    if found is None:
        return None
    number, word = (found[1], found[2]) if found[1].isdigit() else (found[2], found[1])
    key = key_of("run.legs", word)
    return None if key is None else (key, int(number))


def words_of(table: str, name: str) -> str:
    """Return the words of a key.

    Examples
    --------
    >>> words_of("run", "pulses")
    'flashes'
    """
    return next(key.words for key in TABLES[table] if key.name == name)

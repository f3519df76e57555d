"""What was read on site: ``field_test.toml``, or the sheet ``field test``, instruments above and one run a row."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import astuple, replace

from reconcile.house import House
from reconcile.house.site import (
    Branch,
    Display,
    FieldTest,
    Instrument,
    Instruments,
    IntervalRun,
    Leg,
    MainOff,
    Quiet,
    Record,
    Registered,
    Run,
)
from reconcile.read.on_site import field_checks as checks
from reconcile.read.on_site.field_checks import Taken, counted_by, noted
from reconcile.read.on_site.field_names import above_in_keys, check_keys, head_in_keys, in_keys
from reconcile.read.on_site.quiet_times import timed_by_clock
from reconcile.read.tables.as_shown import of_one, timed, wired
from reconcile.read.tables.cells import Cell, Cells, Grid, Row, Section, plain_name, shown
from reconcile.read.tables.gate import Gate
from reconcile.records import dataclass
from reconcile.texts.field.field_keys import TABLES

SERVICES = ("split-phase", "network", "two-wire", "three-phase")
QUANTITIES = ("volts", "amps", "watts")
UNITS = {"volts": "V", "amps": "A", "watts": "W"}
LEG, RUN, QUIET, MAIN_OFF, INTERVAL_RUN, BRANCH = (
    tuple(key.name for key in TABLES[name])
    for name in ("run.legs", "run", "quiet", "main_off", "interval_run", "branch")
)
LEG_COLUMNS = tuple(f"{key}_{n}" for n in (1, 2, 3) for key in LEG)
COLUMNS = tuple(
    dict.fromkeys(["kind", *(k for k in RUN if k != "legs"), *LEG_COLUMNS, *QUIET, *MAIN_OFF, *INTERVAL_RUN, *BRANCH])
)
"""Columns of the sheet; each kind of row fills its own."""
PREPARED = ("kind", "label", "connection", "note", "service", "load", "clamps", "counted", "from_hour", "hours")
"""Columns that the fill-in sheet may hold before anybody was on site."""
KINDS = ("run", "quiet", "main off", "interval run", "branch")
MOST_SITE_READINGS = 500
"""Rows of one field test (a guard: a visit makes some ten)."""
LONGEST_SECONDS = 40.0 * 86_400.0
"""A reading over more than forty days is a bill, not a test."""


@dataclass(frozen=True, slots=True)
class LegCells:
    """The cells of one leg in a row: ``volts`` is the column ``volts_1``."""

    row: Row
    number: int

    def __getitem__(self, key: str) -> Cell:
        return self.row[f"{key}_{self.number}"]


def read_field_test(source: Section | Grid, gate: Gate, house: House) -> FieldTest:
    """Read a field test from its TOML keys or from its sheet.

    Parameters
    ----------
    source : Section or Grid
        Keys of ``field_test.toml``, or the cells of the sheet ``field test``.
    gate : Gate
        Collects every fault; values that are wrong are left out of what is returned.
    house : House
        For its service, its meter and its loads.

    Returns
    -------
    FieldTest
        The same whichever of the two forms it was read from.
    """
    if isinstance(source, Grid):
        return _sheet(source, gate, house)
    keys = ("record", "instrument", "display", "run", "quiet", "main_off", "interval_run", "branch")
    source = checks.without_signs(source, keys, gate)
    taken = []
    for kind, table in ((kind, kind.replace(" ", "_")) for kind in KINDS):
        for written in source.sections(table, gate):
            cells = in_keys(written, table)
            check_keys(cells, table, gate)
            taken.append(Taken(kind, cells, _legs(cells, gate) if kind == "run" else []))
    return _read(source, taken, gate, house)


def _legs(cells: Section, gate: Gate) -> list[Section]:
    legs = [in_keys(leg, "run.legs") for leg in cells.sections("legs", gate)] if "legs" in cells else []
    for leg in legs:
        check_keys(leg, "run.legs", gate)
    return legs


def _sheet(grid: Grid, gate: Gate, house: House) -> FieldTest:
    head = next((i for i, (_, row) in enumerate(grid.rows) if row and plain_name(shown(row[0])) == "kind"), None)
    if head is None:
        gate.fault_in(
            grid,
            "the row of column names is missing",
            "Write the instruments above, one key and its value a row, then a row that begins with kind.",
        )
        head = len(grid.rows)
    from reconcile.read.wrappings.setting_keys import settings_from

    top = settings_from(above_in_keys(Grid(grid.file, grid.sheet, grid.rows[:head])), gate) if head else None
    above = checks.without_signs(top or Section({}, grid.file), ("record", "instrument", "display"), gate)
    taken, waiting = [], []
    table = Grid(grid.file, grid.sheet, grid.rows[head:]).table(gate) if head < len(grid.rows) else None
    written = head_in_keys(table) if table is not None else []
    if table is not None and gate.columns(table, COLUMNS, needed=("kind",)):
        table.names = written
        for row in table.rows:
            kind = gate.choice(row["kind"], KINDS, needed=True)
            if kind is None:
                continue
            if all(row.blank(column) for column in COLUMNS if column not in PREPARED):
                waiting.append(row.number)
                continue
            legs = [LegCells(row, n) for n in (1, 2, 3) if any(not row[f"{key}_{n}"].blank for key in LEG)]
            _strays(row, kind, gate)
            taken.append(Taken(kind, row, legs))
    if waiting:
        rows = f"Row {waiting[0]}" if len(waiting) == 1 else f"Rows {', '.join(map(str, waiting))}"
        gate.notice(f"{rows} of the sheet {grid.sheet} hold no reading and count for nothing.")
    return _read(above, taken, gate, house)


def _strays(row: Row, kind: str, gate: Gate) -> None:
    """A value in a column that its kind of row does not have would be lost in silence."""
    own = {
        "run": {*(k for k in RUN if k != "legs"), *LEG_COLUMNS},
        "quiet": set(QUIET),
        "main off": set(MAIN_OFF),
        "interval run": set(INTERVAL_RUN),
        "branch": set(BRANCH),
    }[kind]
    for column in COLUMNS:
        if column != "kind" and column not in own and not row.blank(column):
            gate.wrong(row[column], f"a row of the kind {kind} has no such value", "Clear it, or correct the kind.")


def _read(top: Section, taken: Sequence[Taken], gate: Gate, house: House) -> FieldTest:
    if len(taken) > MOST_SITE_READINGS:
        at = taken[MOST_SITE_READINGS].cells["date"]
        gate.fault_in(
            at,
            f"there are more than {MOST_SITE_READINGS} readings",
            "Keep those of one visit or two; what a meter shows over weeks goes into readings.csv.",
            row=at.row,
        )
        taken = taken[:MOST_SITE_READINGS]
    instruments = _instruments(top.section("instrument", gate), gate)
    display = _display(top.section("display", gate), gate)
    house = counted_by(house, display)
    runs: list[tuple[Run, Taken]] = []
    quiet: list[Quiet] = []
    main_off: list[MainOff] = []
    interval_runs, branches = [], []
    for one in taken:
        if one.kind == "branch":
            branches.append(_branch(one.cells, gate))
            continue
        if one.kind == "interval run":
            interval_runs.append(_interval_run(one.cells, gate))
            continue
        registered = _registered(one.cells, gate)
        if one.kind == "run":
            run = _run(one, registered, gate, house)
            checks.check_run(run, one, gate, house)
            runs.append((run, one))
        elif one.kind == "quiet":
            day = gate.day(one.cells["date"])
            registered = timed_by_clock(registered, one.cells, gate, day, house.timezone)
            quiet.append(Quiet(registered, _on(one.cells, gate, house), day, one.cells["date"].row))
            noted(one.cells, gate)
            checks.check_quiet(quiet[-1], one, gate, house)
        else:
            main_off.append(_main_off(one, registered, gate))
            checks.check_main_off(main_off[-1], one, gate, house)
    checks.check_together(runs, gate)
    record = _record(top.section("record", gate), gate)
    planned = tuple(run for run in interval_runs if run is not None)
    return FieldTest(
        instruments, display, tuple(run for run, _ in runs), tuple(quiet), tuple(main_off), record, planned,
        tuple(branch for branch in branches if branch is not None),
    )  # fmt: skip


def _interval_run(cells: Cells, gate: Gate) -> IntervalRun | None:
    day = gate.day(cells["date"], needed=True)
    from_hour = gate.number(cells["from_hour"], low=0.0, high=36.0, needed=True)
    hours = gate.number(cells["hours"], above=0.0, high=24.0, needed=True)
    kwh = gate.number(cells["kwh"], unit="kWh", above=0.0, high=500.0, needed=True)
    note = noted(cells, gate)
    if day is None or from_hour is None or hours is None or kwh is None:
        return None
    return IntervalRun(day, from_hour, hours, kwh, note, cells["date"].row)


def _branch(cells: Cells, gate: Gate) -> Branch | None:
    circuit = gate.text(cells["circuit"], needed=True)
    fell = checks.fallen(cells["fell_watts"], gate)
    unplugged = None if cells["unplugged"].blank else gate.flag(cells["unplugged"])
    day = gate.day(cells["date"])
    noted(cells, gate)
    return None if circuit is None or fell is None else Branch(circuit, fell, unplugged, day, cells["circuit"].row)


def joined(first: FieldTest, second: FieldTest | None = None) -> FieldTest:
    """Return the householder's and the electrician's readings as one field test.

    Parameters
    ----------
    first, second : FieldTest
        Where both say something of one instrument or of the display, the first counts.
    """
    if second is None:
        return first
    ours, theirs = first.instruments, second.instruments
    instruments = Instruments(
        ours.volts or theirs.volts, ours.amps or theirs.amps, ours.watts or theirs.watts, ours.time_seconds
    )
    steps = zip(astuple(first.display), astuple(second.display), strict=True)
    display = Display(*(one if one is not None else other for one, other in steps))
    return FieldTest(
        instruments,
        display,
        (*first.runs, *second.runs),
        (*first.quiet, *second.quiet),
        (*first.main_off, *second.main_off),
        (*first.records, *second.records),
        (*first.interval_runs, *second.interval_runs),
        (*first.branches, *second.branches),
    )


def _record(section: Section, gate: Gate) -> tuple[Record, ...]:
    section = in_keys(section, "record")
    check_keys(section, "record", gate)
    person, license_, employer, started, ended = (gate.text(section[key.name]) or "" for key in TABLES["record"])
    made = Record(person, license_, employer, started, ended)
    return () if made == Record() else (made,)


def _instruments(section: Section, gate: Gate) -> Instruments:
    gate.keys(section, (*QUANTITIES, "time"))
    made = {q: _instrument(section.section(q, gate), q, gate) for q in QUANTITIES if q in section}
    time = in_keys(section.section("time", gate), "instrument.time")
    check_keys(time, "instrument.time", gate)
    seconds = gate.number_or(time["seconds"], Instruments().time_seconds, low=0.0, high=60.0)
    return Instruments(made.get("volts"), made.get("amps"), made.get("watts"), seconds)


def _instrument(section: Section, quantity: str, gate: Gate) -> Instrument:
    section = in_keys(section, f"instrument.{quantity}")
    check_keys(section, f"instrument.{quantity}", gate)
    unit = UNITS[quantity]
    kind = _kind(section, quantity, gate)
    full = gate.number(section["range"], unit=unit, above=0.0, high=1e6)
    of_range = gate.number_or(section["percent_of_range"], 0.0, low=0.0, high=50.0)
    if of_range and full is None:
        gate.wrong(section["percent_of_range"], "a percentage of the range needs the range", f"Add range in {unit}.")
    digits = gate.number_or(section["digits"], 0.0, low=0.0, high=1000.0)
    resolution = gate.number_or(section["resolution"], 0.0, unit=unit, low=0.0, high=100.0)
    if digits and not resolution:
        gate.wrong(section["digits"], "digits mean nothing without the size of one", f"Add resolution in {unit}.")
    category = gate.text(section["category"])
    if category is not None:
        from reconcile.meter.instruments import category as read_category

        if read_category(category) is None:
            gate.wrong(section["category"], "this is no measurement category", "Write it as CAT III 600 V.")
    own = gate.number(section["percent_of_reading"], low=0.0, high=50.0)
    name = gate.text(section["name"]) or ""
    made = Instrument(
        percent_of_reading=own or 0.0,
        percent_of_range=of_range,
        full_scale=full,
        digits=digits,
        resolution=resolution,
        resolution_kwh=gate.number(section["resolution_kwh"], unit="kWh", above=0.0, high=1.0),
        min_amps=gate.number(section["min_amps"], unit="A", above=0.0, high=1000.0),
        name=name,
    )
    if kind is not None and own is None and not of_range:
        made = replace(
            kind,
            resolution_kwh=made.resolution_kwh or kind.resolution_kwh,
            min_amps=made.min_amps or kind.min_amps,
            name=f"{name}, {kind.name}".strip(", "),
        )
    return replace(
        made,
        category=category,
        serial=gate.text(section["serial"]) or "",
        calibrated=gate.day(section["calibrated"]),
    )


def _kind(section: Section, quantity: str, gate: Gate) -> Instrument | None:
    """Return the typical class that is named; limits from a leaflet, where they are written, come before it."""
    if section["kind"].blank:
        return None
    from reconcile.meter.instruments import typical

    classes = {name: row for name, row in typical().items() if row.measures == quantity}
    found = gate.choice(section["kind"], tuple(classes))
    return None if found is None else classes[found].instrument


def _display(section: Section, gate: Gate) -> Display:
    section = in_keys(section, "display")
    check_keys(section, "display", gate)
    return Display(
        gate.number(section["step_kw"], unit="kW", above=0.0, high=10.0),
        gate.number(section["step_volts"], unit="V", above=0.0, high=10.0),
        gate.number(of_one(section["count_wh"]), unit="Wh", above=0.0, high=10_000.0),
    )


def _registered(cells: Cells, gate: Gate) -> Registered:
    displays = _several(cells["meter_kw"], gate, unit="kW")
    seconds = _several(timed(cells["seconds"]), gate, unit="s", above=0.0, high=LONGEST_SECONDS)
    return Registered(
        meter_kw=_mean(displays),
        seconds=_mean(seconds),
        pulses=gate.number(cells["pulses"], low=0.0, high=1e9),
        turns=gate.number(cells["turns"], low=0.0, high=1e7),
        register_start=gate.number(cells["register_start"], low=0.0),
        register_end=gate.number(cells["register_end"], low=0.0),
        kw_repeats=displays if len(displays) > 1 else (),
        seconds_repeats=seconds if len(seconds) > 1 else (),
        counted=gate.choice(cells["counted"], ("pulse-to-pulse", "in-a-time")),
    )


def _several(
    cell: Cell,
    gate: Gate,
    *,
    unit: str,
    low: float | None = None,
    above: float | None = None,
    high: float | None = None,
) -> tuple[float, ...]:
    """Read one number, or repeats of it: a list, or in a sheet numbers parted by semicolons."""
    found = (gate.number(one, unit=unit, low=low, above=above, high=high) for one in _parts(cell))
    return tuple(value for value in found if value is not None)


def _parts(cell: Cell) -> Iterator[Cell]:
    value = cell.value
    if isinstance(value, str) and ";" in value:
        value = [part for part in value.split(";") if part.strip()]
    for item in value if isinstance(value, list) else [value]:
        yield Cell(item, cell.file, cell.column, cell.row, cell.sheet)


def _mean(values: tuple[float, ...]) -> float | None:
    return sum(values) / len(values) if values else None


def _run(one: Taken, registered: Registered, gate: Gate, house: House) -> Run:
    cells = one.cells
    before, after = (_several(cells[f"background_w_{when}"], gate, unit="W", low=0.0) for when in ("before", "after"))
    watts = _several(cells["reference_watts"], gate, unit="W", above=0.0)
    return Run(
        label=gate.text(cells["label"]) or "",
        registered=registered,
        legs=tuple(leg for cells_of_leg in one.legs if (leg := _leg(cells_of_leg, gate)) is not None),
        service=gate.choice(cells["service"], SERVICES),
        meter_volts=gate.number(cells["meter_volts"], unit="V", above=0.0, high=700.0),
        connection=gate.choice(wired(cells["connection"]), ("line-to-line", "line-to-neutral")),
        line_volts=gate.number(cells["line_volts"], unit="V", above=0.0, high=700.0),
        volts_were_loaded=gate.flag(cells["volts_were_loaded"], default=True),
        background_w_before=_mean(before),
        background_w_after=_mean(after),
        reference_watts=_mean(watts),
        reference_kwh=gate.number(cells["reference_kwh"], unit="kWh", above=0.0),
        load=gate.choice(cells["load"], ("light", "full", "other")),
        clamps=gate.choice(cells["clamps"], ("main", "load")),
        outlet_volts_off=gate.number(cells["outlet_volts_off"], unit="V", above=0.0, high=300.0),
        outlet_volts_on=gate.number(cells["outlet_volts_on"], unit="V", above=0.0, high=300.0),
        day=gate.day(cells["date"]),
        note=noted(cells, gate),
        row=cells["label"].row,
        watts_repeats=watts if len(watts) > 1 else (),
        background_repeats=(*before, *after) if len(before) > 1 or len(after) > 1 else (),
    )


def _leg(cells: Cells, gate: Gate) -> Leg | None:
    amps = gate.number(cells["amps"], unit="A", low=0.0, high=3000.0, needed=True)
    volts = gate.number(cells["volts"], unit="V", above=0.0, high=700.0)
    factors = [gate.number(cells[key], above=0.0, high=1.0) for key in ("power_factor", "leg_power_factor")]
    if None not in factors:
        gate.wrong(
            cells["leg_power_factor"],
            "the load's power factor and the leg's own stand side by side",
            "Keep power_factor for the load's own, or leg_power_factor where it was measured on the leg.",
        )
    return None if amps is None else Leg(volts, amps, factors[0], factors[1])


def _on(cells: Cells, gate: Gate, house: House) -> tuple[str, ...]:
    cell = cells["on"]
    value = cell.value
    if isinstance(value, str):
        value = value.replace(";", ",").split(",")
    if not isinstance(value, list):
        if not cell.blank:
            gate.wrong(cell, "these are no names of loads", 'Write them as ["refrigerator", "router"].')
        return ()
    known = [load.name for load in house.loads]
    names = []
    for item in value:
        name = gate.text(Cell(item, cell.file, cell.column, cell.row, cell.sheet))
        if name is None:
            continue
        listed = gate.listed_load(cell, name, known)
        if known and listed is None:
            gate.notice(f"A quiet reading names {name}, which is not in the list of loads.")
        names.append(listed or name)
    return tuple(names)


def _main_off(one: Taken, registered: Registered, gate: Gate) -> MainOff:
    cells = one.cells

    def told(key: str) -> bool | None:
        return None if cells[key].blank else gate.flag(cells[key])

    made = MainOff(
        registered,
        told("all_disconnects_off"),
        told("generation_off"),
        told("service_underground"),
        gate.day(cells["date"]),
        cells["date"].row,
    )
    noted(cells, gate)
    return made

"""What no honest reading on site can be: each check a located sentence that says what to write instead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field, replace
from datetime import date
from typing import Any

from reconcile.house import DANGERS, House, Meter
from reconcile.house.registers import current_meter
from reconcile.house.site import Display, Leg, MainOff, Quiet, Registered, Run
from reconcile.read.household.settings import signs_of
from reconcile.read.on_site.field_names import called
from reconcile.read.on_site.quiet_times import TIMES
from reconcile.read.tables.bounds import LINE_VOLTS, SERVICE_AMPS, SHORT_TIME_FACTOR, most_watts
from reconcile.read.tables.cells import Cell, Cells, Section
from reconcile.read.tables.gate import Gate
from reconcile.records import dataclass
from reconcile.texts.field.field_keys import words_of

LEGS = {"split-phase": 2, "network": 2, "two-wire": 1, "three-phase": 3}
LEG_OF_LINE = {"split-phase": 0.5, "network": 0.57735, "two-wire": 1.0, "three-phase": 0.57735}
"""Volts of a leg to neutral over volts between the legs."""
NEAR = 0.15
"""Share within which volts are taken to be meant as the line's, or the leg's (common practice)."""
PLUG_WATTS = 4000.0
"""More than any plug-in meter carries [W]: 16 A at 250 V (common practice)."""
LEAST_WATTS = 20.0
"""A reference load below this is one written in kW [W] (common practice)."""
MOST_KW_OF_A_HOUSE = 100.0


@dataclass(frozen=True, slots=True)
class Taken:
    """One run or reading as cells, before it is read."""

    kind: str
    cells: Any
    legs: Sequence[Any] = field(default=())


def counted_by(house: House, display: Display) -> House:
    """Return the house with what one count is worth, where its own file does not say and the sheet does."""
    meter = current_meter(house)
    disk = meter.type == "disk"
    if display.count_wh is None or (meter.disk_wh if disk else meter.pulse_wh) is not None:
        return house
    told = replace(meter, disk_wh=display.count_wh) if disk else replace(meter, pulse_wh=display.count_wh)
    return replace(house, meters=tuple(told if one is meter else one for one in house.meters))


def check_run(run: Run, one: Taken, gate: Gate, house: House) -> None:
    """Check one run of a load against its service, its meter and itself."""
    cells, service = one.cells, run.service or house.service
    if run.service is not None and house.service != "unknown" and run.service != house.service:
        gate.wrong(
            cells["service"],
            f"the house's own service is {house.service}, and a house has one",
            "Correct it here or under [house].",
        )
        service = house.service
    _check_registered(run.registered, one, gate, house, needed=True)
    _check_day(run.day, one.cells, gate, house)
    if run.legs:
        _check_legs(run, one, gate, house, service)
    if not run.legs and not one.legs and run.reference_watts is None and run.reference_kwh is None:
        at = cells["label"]
        gate.wrong(
            at,
            "no load was measured in this run",
            f"Give legs, or {called(cells, 'reference_watts')} of a plug-in meter.",
        )
    _check_plug(run, cells, gate)
    _check_line(run, cells, gate, house, service)


def check_quiet(quiet: Quiet, one: Taken, gate: Gate, house: House) -> None:
    """Check one quiet reading."""
    _check_registered(quiet.registered, one, gate, house, needed=True)
    _check_day(quiet.day, one.cells, gate, house)


def check_main_off(main_off: MainOff, one: Taken, gate: Gate, house: House) -> None:
    """Check one reading with the main off."""
    _check_registered(main_off.registered, one, gate, house, needed=True)
    _check_day(main_off.day, one.cells, gate, house)


def check_together(runs: Sequence[tuple[Run, Taken]], gate: Gate) -> None:
    """Check what only several runs show: two services in one house, legs exchanged between repeats."""
    first: dict[str, Run] = {}
    services = {run.service for run, _ in runs if run.service is not None}
    for run, one in runs:
        if len(services) > 1 and run.service is not None and run.service != runs[0][0].service:
            gate.wrong(
                one.cells["service"], "these runs name more than one service", "A house has one: correct the others."
            )
        before = first.setdefault(run.label, run) if run.label else run
        if before is not run and _exchanged(before.legs, run.legs):
            at = one.legs[0]["amps"]
            gate.wrong(
                at,
                "legs 1 and 2 stand the other way round than in the run above of the same label",
                "Keep one order of the legs; write leg 1 first.",
            )


def _exchanged(a: Sequence[Leg], b: Sequence[Leg]) -> bool:
    if len(a) != 2 or len(b) != 2:
        return False
    straight = abs(a[0].amps - b[0].amps) + abs(a[1].amps - b[1].amps)
    crossed = abs(a[0].amps - b[1].amps) + abs(a[1].amps - b[0].amps)
    apart = abs(a[0].amps - a[1].amps)
    return apart > 0.05 * max(a[0].amps, a[1].amps) and crossed < 0.25 * straight


YEARS_AFTER = 5
"""Years from the last bill to a reading on site beyond which its year is taken for a slip of the pen (our choice)."""


def _check_day(day: date | None, cells: Any, gate: Gate, house: House) -> None:
    closes = [bill.end for bill in house.bills if bill.end is not None]
    if day is not None and closes and day.year > max(closes).year + YEARS_AFTER:
        gate.wrong(cells["date"], f"this is years after the last bill, of {max(closes)}", "Check the year.")


def _check_registered(r: Registered, one: Taken, gate: Gate, house: House, *, needed: bool) -> None:
    cells, meter = one.cells, current_meter(house)
    most = most_watts(house) * SHORT_TIME_FACTOR
    nothing = all(cells[key].blank for key in ("meter_kw", "pulses", "turns", "register_start", "register_end"))
    if needed and nothing:
        gate.wrong(
            cells["meter_kw"],
            "the meter's own reading is missing",
            "Give {}, or {} or {} with their {}, or {} and {}.".format(
                *(
                    called(cells, k)
                    for k in ("meter_kw", "pulses", "turns", "seconds", "register_start", "register_end")
                )
            ),
        )
    if r.meter_kw is not None:
        if r.meter_kw < 0 and not house.generation:
            gate.wrong(cells["meter_kw"], "this cannot be negative without own generation", "Check the sign.")
        elif abs(r.meter_kw) * 1000.0 * meter.multiplier > most:
            guess = f"Is it W? Then write {r.meter_kw / 1000.0:g}." if abs(r.meter_kw) >= MOST_KW_OF_A_HOUSE else ""
            gate.wrong(
                cells["meter_kw"],
                f"this is more kW than the service carries ({most / 1000.0:.0f} kW)",
                f"{guess} Check the figure and its unit.".strip(),
            )
    timed = [key for key in ("pulses", "turns", "register_end") if not cells[key].blank]
    quiet = one.kind == "quiet"
    if timed and cells["seconds"].blank and not (quiet and any(not cells[key].blank for key in TIMES)):
        what = f"{called(cells, 'seconds')}{' or times' if quiet else ''}"
        times = f"Write {' and '.join(called(cells, key) for key in TIMES)}, as 22:40 and 06:55, or"
        gate.wrong(
            cells["seconds"],
            f"{called(cells, timed[0])} without {what} tells no power",
            f"{times if quiet else 'Write'} how long it took.",
        )
    _check_counts(r, cells, gate, meter, most)
    _check_registers(r, cells, gate, meter, most)


COUNTS_A_KWH = 50.0
"""From here on a constant is read as counts a kWh, not Wh a count: nameplates bear up to some 25 Wh and from some 100
counts a kWh (common practice)."""


def _check_counts(r: Registered, cells: Any, gate: Gate, meter: Meter, most: float) -> None:
    for key, count, size, name in (
        ("pulses", r.pulses, meter.pulse_wh, "pulse_wh"),
        ("turns", r.turns, meter.disk_wh, "disk_wh"),
    ):
        if count is None:
            continue
        if size is None and r.meter_kw is None:
            gate.wrong(
                cells[key],
                f"the watt-hours of one are not known ({name})",
                f"It is on the meter's face: write it above the runs ({words_of('display', 'count_wh')}), or as {name} "
                "under [meter].",
            )
        elif size is not None and r.seconds and 3600.0 * count * size * meter.multiplier / r.seconds > most:
            one = "turn" if key == "turns" else "flash"
            inverse = (
                f"{size:g} looks like the number of them a kWh, printed as imp/kWh or r/kWh: one {one} is then "
                f"{1000.0 / size:g} Wh. Write {1000.0 / size:g}, or {size:g} imp/kWh."
            )
            gate.wrong(
                cells[key],
                f"so many in {r.seconds:g} s are more than the service carries",
                inverse if size >= COUNTS_A_KWH else f"Check the count, the seconds and {name}.",
            )
    if r.pulses is not None and r.counted != "in-a-time" and not float(r.pulses).is_integer():
        gate.wrong(cells["pulses"], "pulses are whole", "Write a whole number.")


def _check_registers(r: Registered, cells: Any, gate: Gate, meter: Meter, most: float) -> None:
    start, end = r.register_start, r.register_end
    if (start is None) != (end is None):
        missing = "register_end" if end is None else "register_start"
        if cells[missing].blank:
            gate.wrong(
                cells[missing], "one register reading alone tells nothing", f"Write {called(cells, missing)} too."
            )
        return
    if start is None or end is None:
        return
    if end < start and meter.digits is None:
        gate.wrong(
            cells["register_end"],
            "the register went backwards",
            "Check both readings; if it passed its end, write digits under [meter].",
        )
        return
    gone = end - start + (10.0 ** (meter.digits or 0) if end < start else 0.0)
    if r.seconds and gone * 3.6e6 * meter.multiplier / r.seconds > most:
        gate.wrong(
            cells["register_end"],
            f"{gone:g} kWh in {r.seconds:g} s are more than the service carries",
            "Check both readings and the seconds.",
        )


def _check_legs(run: Run, one: Taken, gate: Gate, house: House, service: str) -> None:
    wanted = LEGS.get(service)
    if wanted is not None and len(run.legs) != wanted and len(run.legs) == len(one.legs):
        gate.wrong(
            _leg_cell(one, len(run.legs) - 1, "amps"),
            f"a {service} service has {wanted} leg{'s' if wanted > 1 else ''}, and {len(run.legs)} are given",
            "Give every leg (0 A where one carries nothing), or correct the service.",
        )
    if len(run.legs) != len(one.legs):
        return
    most = (house.service_amps or SERVICE_AMPS) * SHORT_TIME_FACTOR
    line = house.line_volts or LINE_VOLTS.get(service, 240.0)
    for n, leg in enumerate(run.legs):
        if leg.volts is not None and leg.volts < 60.0 and leg.amps > 80.0:
            gate.wrong(_leg_cell(one, n, "volts"), "volts and amps seem exchanged", "Write each in its own column.")
        elif leg.amps > most:
            gate.wrong(
                _leg_cell(one, n, "amps"),
                f"this is more than the service carries ({most:.0f} A for a while)",
                "Check the clamp's range and the decimal point.",
            )
        elif leg.volts is not None and service in LEG_OF_LINE and not _ambiguous(service, house):
            _check_leg_volts(leg.volts, _leg_cell(one, n, "volts"), gate, service, line)


def _check_leg_volts(volts: float, at: Cell, gate: Gate, service: str, line: float) -> None:
    share = LEG_OF_LINE[service]
    if share < 1.0 and abs(volts - line) < NEAR * line:
        gate.wrong(
            at,
            f"this is the volts between the legs; a leg to neutral has about {share * line:.0f} V here",
            "Write the leg's volts to neutral, or leave it and give line_volts.",
        )
    elif not 0.5 * share * line <= volts <= 1.4 * share * line:
        gate.wrong(
            at, f"no leg of this service has these volts (about {share * line:.0f} V)", "Check figure and service."
        )


def _ambiguous(service: str, house: House) -> bool:
    """Three phases come as 120/208 V and as 230/400 V: without line_volts neither can be held against a reading."""
    return service == "three-phase" and house.line_volts is None


def _leg_cell(one: Taken, n: int, key: str) -> Cell:
    cell: Cell = one.legs[n][key]
    return cell


def _check_plug(run: Run, cells: Any, gate: Gate) -> None:
    watts, energy, seconds = run.reference_watts, run.reference_kwh, run.registered.seconds
    if watts is not None and watts < LEAST_WATTS:
        gate.wrong(cells["reference_watts"], "this is too little for a load: is it kW?", "Write the load's W.")
    elif watts is not None and watts > PLUG_WATTS:
        gate.wrong(
            cells["reference_watts"],
            f"no plug-in meter carries more than about {PLUG_WATTS:.0f} W",
            "Check figure and unit; a larger load is measured at the legs, by a qualified person.",
        )
    if energy is not None and cells["seconds"].blank:
        gate.wrong(
            cells["seconds"],
            f"{called(cells, 'reference_kwh')} without {called(cells, 'seconds')} tells no power",
            "Write how long it took.",
        )
    if energy is not None and seconds and energy * 3.6e6 / seconds > PLUG_WATTS:
        gate.wrong(
            cells["reference_kwh"],
            f"{energy:g} kWh in {seconds:g} s is more than a plug-in meter carries: is it Wh?",
            "Write kWh, and the seconds they took.",
        )
    for key, value in (
        ("background_w_before", run.background_w_before),
        ("background_w_after", run.background_w_after),
    ):
        if value is not None and 0.0 < value < LEAST_WATTS:
            gate.wrong(cells[key], "hardly a house draws so little: is it kW?", "Write W; 0 where nothing was on.")
        elif value is not None and run.registered.meter_kw is not None and value > 1000.0 * run.registered.meter_kw > 0:
            gate.wrong(cells[key], "the background is more than the meter showed with the load on", "Check both.")
    off, on = run.outlet_volts_off, run.outlet_volts_on
    if (off is None) != (on is None):
        key, way = ("outlet_volts_on", "off") if on is None else ("outlet_volts_off", "on")
        if cells[key].blank:
            gate.notice(
                f"The receptacle's volts are written with the load {way} only, and tell nothing alone. Write "
                f"{called(cells, key)} too: then what its wires lose is known, and not taken as usual."
            )
    if off is not None and on is not None and on > off * 1.02:
        gate.wrong(cells["outlet_volts_on"], "a load pulls the volts down, not up", "Exchange the two.")


LEAST_WATTS = 5.0
"""Below this, and above nothing, watts are asked about: they are more likely kW (our choice)."""


def fallen(cell: Cell, gate: Gate) -> float | None:
    """Return by how many watts the meter slowed; ask where that is less than any meter shows."""
    fell = gate.number(cell, unit="W", low=0.0, high=50_000.0, needed=True)
    if fell is not None and 0.0 < fell < LEAST_WATTS:
        gate.wrong(cell, "hardly a meter shows so small a fall: is it kW?", "Write W; 0 where it did not slow.")
    return fell


def _check_line(run: Run, cells: Any, gate: Gate, house: House, service: str) -> None:
    if service not in LEG_OF_LINE or _ambiguous(service, house):
        return
    line = house.line_volts or LINE_VOLTS[service]
    share = LEG_OF_LINE[service]
    for key, volts in (("meter_volts", run.meter_volts), ("line_volts", run.line_volts)):
        if volts is None:
            continue
        if share < 1.0 and abs(volts - share * line) < NEAR * share * line:
            gate.wrong(
                cells[key],
                f"this is a leg's volts to neutral; between the legs there are about {line:.0f} V",
                "Write the volts between the legs.",
            )
        elif not 0.5 * line <= volts <= 1.4 * line:
            gate.wrong(cells[key], f"this service has about {line:.0f} V between the legs", "Check figure and service.")


def without_signs(section: Section, keys: Sequence[str], gate: Gate) -> Section:
    """Check the keys, and take out a ``[danger]`` put beside readings on site: people before bills, wherever told."""
    signs = section.section("danger", gate)
    gate.keys(signs, DANGERS)
    gate.signs_on_site |= {*signs_of(signs, gate)}
    rest = replace(section, values={key: value for key, value in section.values.items() if key != "danger"})
    gate.keys(rest, keys)
    return rest


def noted(cells: Cells, gate: Gate) -> str:
    """Return what is noted beside a reading, kept to be looked through for signs of danger."""
    cell = cells["note"]
    note = gate.text(cell) or ""
    if note:
        gate.said_on_site.append((cell.file if cell.row is None else f"{cell.file}, row {cell.row}", note))
    return note

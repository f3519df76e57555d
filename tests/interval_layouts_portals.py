"""Downloads in the shapes of portals, inverters, plugs and monitors in general: every one invented here.

What stands beside the energy is the trap: amperes, the charge of a battery, circuits, the home next door.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import UTC, timedelta

import numpy as np
from interval_layouts import Layout, Made, Written, csv, iso, table
from interval_layouts_fresh import by_day, ended, registers

PORTALS: dict[str, Layout] = {}
PORTAL_ASKS = {
    "power beside two counters": ("more than one column of values", "total (kWh)"),
    "total and circuits": ("more than one column of values", "Home (kWh)"),
    "circuits as rows": ("names more than one register", "Main"),
    "plus and minus as directions": ("names more than one register", "+"),
    "expected beside it": ("more than one column of values", "Actual (kWh)"),
    "mean least and most power": ("more than one column of values", "Avg (W)"),
    "two meters with numbers": ("names more than one register", "70011"),
    "power beside a column that says nothing": ("more than one column of values", "Power (W)"),
}
"""What leaves one thing open: part of the question, and the channel that answers it."""

portal = registers(PORTALS)


def watts(kwh: float, made: Made) -> float:
    return kwh * 3.6e6 / made.step


def both(made: Made) -> Iterable[tuple[object, float, float]]:
    return zip(made.begins, made.kwh.tolist(), made.back.tolist(), strict=True)


def counted(made: Made) -> list[tuple[str, float]]:
    """Stamp and register from the first beginning to the last end."""
    stamps = [*made.begins, ended(made)[-1][0]]
    return list(zip(map(iso, stamps), [5000.0, *(5000.0 + np.cumsum(made.kwh))], strict=True))


def wide(made: Made, names: list[str]) -> str:
    rows = [f"{day}," + ",".join(f"{v:.3f}" for _, v in cells) for day, cells in by_day(made).items()]
    return table("Date," + ",".join(names), rows)


# ---- what stands beside the energy


@portal()
def volts_amperes_and_power(made: Made) -> Written:
    rows = [f"{iso(t)},120.1,{v * 10:.3f},{watts(v, made):.4f},60.0" for t, v in made.pairs]
    return csv(table("Time,Voltage (V),Current (A),Power (W),Frequency (Hz)", rows))


@portal()
def two_legs_with_volts_and_amperes(made: Made) -> Written:
    rows = [f"{iso(t)},120,121,3,4,{0.4 * watts(v, made):.5f},{0.6 * watts(v, made):.5f}" for t, v in made.pairs]
    return csv(table("Time,L1 V,L2 V,L1 A,L2 A,L1 W,L2 W", rows))


@portal()
def an_inverter_with_a_battery(made: Made) -> Written:
    rows = [f"{iso(t)};300;{watts(v, made) + 300:.4f};{watts(v, made):.4f};0;55" for t, v in made.pairs]
    return csv(table("Time;PV(W);Load(W);Grid(W);Battery(W);SOC(%)", rows))


@portal()
def what_panels_make_and_the_grid_takes(made: Made) -> Written:
    rows = [f"{iso(t)},{b + 0.3:.3f},{v + 0.3:.3f},{b:.3f},{v:.3f}" for t, v, b in both(made)]
    head = "Time,Energy Produced (kWh),Energy Consumed (kWh),Exported to Grid (kWh),Imported from Grid (kWh)"
    return csv(table(head, rows), back=True)


@portal()
def own_use_beside_both_ways(made: Made) -> Written:
    rows = [f"{iso(t)},{b + 0.3:.3f},0.3,{v:.3f},{b:.3f}" for t, v, b in both(made)]
    head = "time,production (kWh),self-consumption (kWh),grid consumption (kWh),feed-in (kWh)"
    return csv(table(head, rows), back=True)


@portal()
def reactive_beside_it(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{v * 0.3:.3f},{v * 1.05:.3f},0.95" for t, v in made.pairs]
    return csv(table("time,kWh,kVARh,kVAh,PF", rows))


@portal()
def reactive_in_other_rows(made: Made) -> Written:
    rows = [f"{iso(t)},{unit},{x:.3f}" for t, v in made.pairs for unit, x in (("kWh", v), ("kVARh", 0.3 * v))]
    return csv(table("time,uom,value", rows))


@portal()
def last_year_beside_it(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{v * 1.1:.3f}" for t, v in made.pairs]
    return csv(table("time,This year (kWh),Last year (kWh)", rows))


@portal()
def amount_before_energy(made: Made) -> Written:
    return csv(table("time,Amount,Energy", [f"{iso(t)},{v * 0.2:.2f},{v:.3f}" for t, v in made.pairs]))


@portal()
def a_sum_that_runs_on_beside_it(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{c:.3f}" for (t, v), c in zip(made.pairs, np.cumsum(made.kwh), strict=True)]
    return csv(table("Time,kWh,Cumulative kWh", rows))


@portal()
def the_total_of_the_day_in_every_row(made: Made) -> Written:
    total = {day: sum(v for _, v in cells) for day, cells in by_day(made).items()}
    return csv(table("Time,kWh,Day total", [f"{iso(t)},{v:.3f},{total[t.date()]:.3f}" for t, v in made.pairs]))


@portal()
def totals_between_the_days(made: Made) -> Written:
    rows = []
    for cells in by_day(made).values():
        rows += [f"{iso(t)},{v:.3f}" for t, v in cells]
        rows.append(f"Total,{sum(v for _, v in cells):.3f}")
    return csv(table("Time,kWh", rows))


@portal()
def readings_at_both_ends(made: Made) -> Written:
    rows = [
        f"{a},{x:.3f},{y:.3f},{y - x:.3f}" for (a, x), (_, y) in zip(counted(made), counted(made)[1:], strict=False)
    ]
    return csv(table("Start,Start read,End read,Usage kWh", rows))


# ---- dates, clocks and names


@portal(steps=(60,), autumn=False)
def columns_named_he0100(made: Made) -> Written:
    return csv(wide(made, [f"HE{hour + 1:02d}00" for hour in range(24)]))


@portal(steps=(15,), autumn=False)
def columns_named_kwh_0015(made: Made) -> Written:
    ends = [15 * (quarter + 1) for quarter in range(96)]
    rows = []
    for day, cells in by_day(made).items():
        at = {60 * t.hour + t.minute + 15: f"{v:.3f}" for t, v in cells}
        rows.append(f"{day}," + ",".join(at.get(end, "") for end in ends))
    return csv(table("Date," + ",".join(f"kWh {end // 60:02d}{end % 60:02d}" for end in ends), rows))


@portal(steps=(15,), autumn=False)
def columns_numbered_behind_letters(made: Made) -> Written:
    return csv(wide(made, [f"Int_{quarter + 1:03d}" for quarter in range(96)]))


@portal(steps=(60,), autumn=False)
def columns_named_by_spans(made: Made) -> Written:
    return csv(wide(made, [f"{hour:02d}-{hour + 1:02d}" for hour in range(24)]))


@portal(steps=(30,), autumn=False)
def periods_with_a_letter(made: Made) -> Written:
    rows = [f"{t:%d/%m/%Y},P{2 * t.hour + t.minute // 30 + 1:02d},{v:.3f}" for t, v in made.pairs]
    return csv(table("Date,Period,kWh", rows), toml="[bills]\ndate_format = 'DD/MM/YYYY'\n")


@portal()
def clocks_of_six_digits(made: Made) -> Written:
    return csv(table("DATE,TIME,KWH", [f"{t:%Y%m%d,%H%M%S},{v:.3f}" for t, v in made.pairs]))


@portal()
def clocks_of_six_digits_without_their_zeros(made: Made) -> Written:
    return csv(table("DATE,TIME,KWH", [f"{t:%Y%m%d},{int(f'{t:%H%M%S}')},{v:.3f}" for t, v in made.pairs]))


@portal()
def all_digits_to_the_minute(made: Made) -> Written:
    return csv(table("DATETIME,KWH", [f"{t:%Y%m%d%H%M},{v:.3f}" for t, v in made.pairs]))


@portal()
def days_before_months_in_columns(made: Made) -> Written:
    rows = [f"{t.day},{t.month},{t.year},{t.hour},{t.minute},{v:.3f}" for t, v in made.pairs]
    return csv(table("Day,Month,Year,Hour,Minute,kWh", rows))


@portal()
def weekdays_before_the_dates(made: Made) -> Written:
    rows = [f"{t:%a %m/%d/%Y %I:%M %p},{v:.3f}" for t, v in made.pairs]
    return csv(table("When,kWh", rows), toml="[bills]\ndate_format = 'MM/DD/YYYY'\n")


@portal()
def letters_of_the_clock_in_a_column(made: Made) -> Written:
    rows = [f"{t:%Y-%m-%d},{t:%H:%M},{t.tzname()},{v:.3f}" for t, v in made.pairs]
    return csv(table("Date,Time,Time Zone,kWh", rows))


@portal()
def milliseconds_and_a_distance(made: Made) -> Written:
    return csv(table("Interval Start,kWh", [f"{t:%Y-%m-%d %H:%M:%S.000 %z},{v:.3f}" for t, v in made.pairs]))


@portal()
def a_line_break_in_the_names(made: Made) -> Written:
    return csv('"Start\ntime","Usage\n(kWh)"\n' + "".join(f"{iso(t)},{v:.3f}\n" for t, v in made.pairs))


@portal()
def names_behind_a_hash(made: Made) -> Written:
    return csv(table("# logger 3\n# time,kWh", [f"{iso(t)},{v:.3f}" for t, v in made.pairs]))


@portal()
def columns_of_one_width(made: Made) -> Written:
    return csv(table("DATE     TIME   KWH", [f"{t:%Y%m%d} {t:%H%M} {v:9.3f}" for t, v in made.pairs]))


@portal()
def numbers_with_exponents(made: Made) -> Written:
    return csv(table("time,kWh", [f"{iso(t)},{v:.6E}" for t, v in made.pairs]))


@portal()
def a_meter_named_in_its_first_row_alone(made: Made) -> Written:
    return csv(
        table("Meter,Time,kWh", [f"{'' if i else 'M-77'},{iso(t)},{v:.3f}" for i, (t, v) in enumerate(made.pairs)])
    )


@portal()
def seconds_and_a_duration(made: Made) -> Written:
    rows = [f"{int(t.timestamp())},{made.step},{v * 1000:.0f}" for t, v in made.pairs]
    return csv(table("start,duration,value (Wh)", rows))


# ---- counters and JSON


@portal()
def a_counter_of_watt_hours(made: Made) -> Written:
    stamps = [*made.begins, made.begins[0] + timedelta(0)]
    stamps[-1] = ended(made)[-1][0]
    values = [123_456, *(123_456 + np.cumsum(np.round(made.kwh * 1000)).astype(int))]
    rows = [f"{int(t.timestamp())},{value}" for t, value in zip(stamps, values, strict=True)]
    return csv(table("timestamp,energy_import_total_wh", rows))


@portal()
def json_from_times_to_values(made: Made) -> Written:
    data = {"unit": "kWh", "readings": {t.isoformat(): round(v, 3) for t, v in made.pairs}}
    return Written({"interval.json": json.dumps(data)})


@portal()
def json_of_milliseconds_and_values(made: Made) -> Written:
    return Written({"interval.json": json.dumps([[int(t.timestamp() * 1000), round(v, 3)] for t, v in made.pairs])})


@portal()
def json_of_days_of_hours(made: Made) -> Written:
    days = [
        {"date": str(day), "readings": [{"time": f"{t:%H:%M}", "kwh": round(v, 3)} for t, v in cells]}
        for day, cells in by_day(made).items()
    ]
    return Written({"interval.json": json.dumps({"days": days})})


# ---- what leaves one thing open


@portal()
def power_beside_two_counters(made: Made) -> Written:
    rows = [
        f"{a},{watts(y - x, made):.2f},0,{x:.3f}"
        for (a, x), (_, y) in zip(counted(made), counted(made)[1:], strict=False)
    ]
    rows.append(f"{counted(made)[-1][0]},0,0,{counted(made)[-1][1]:.3f}")
    return csv(table("time,power (W),today (kWh),total (kWh)", rows))


@portal()
def total_and_circuits(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{v * 0.2:.4f},{v * 0.1:.4f},{v * 0.3:.4f}" for t, v in made.pairs]
    return csv(table("Time,Home (kWh),Kitchen (kWh),Dryer (kWh),Always on (kWh)", rows))


@portal()
def circuits_as_rows(made: Made) -> Written:
    shares = (("Main", 1.0), ("Kitchen", 0.2), ("Dryer", 0.1))
    return csv(
        table("Time,Circuit,kWh", [f"{iso(t)},{name},{v * share:.4f}" for t, v in made.pairs for name, share in shares])
    )


@portal()
def plus_and_minus_as_directions(made: Made) -> Written:
    return csv(
        table(
            "time,direction,kWh",
            [f"{iso(t)},{sign},{x:.3f}" for t, v, b in both(made) for sign, x in (("+", v), ("-", b))],
        )
    )


@portal()
def expected_beside_it(made: Made) -> Written:
    return csv(table("time,Actual (kWh),Expected (kWh)", [f"{iso(t)},{v:.3f},{v * 1.1:.3f}" for t, v in made.pairs]))


@portal()
def average_homes_beside_it(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{v * 1.1:.3f},{v * 0.8:.3f}" for t, v in made.pairs]
    return csv(table("time,Your usage,Average home,Efficient home", rows))


@portal()
def mean_least_and_most_power(made: Made) -> Written:
    rows = [f"{iso(t)},{watts(v, made):.4f},{watts(v, made) / 3:.4f},{watts(v, made) * 2:.4f}" for t, v in made.pairs]
    return csv(table("Time,Avg (W),Min (W),Max (W)", rows))


@portal()
def two_meters_with_numbers(made: Made) -> Written:
    rows = [f"{number},{iso(t)},{x:.3f}" for t, v in made.pairs for number, x in (("70011", v), ("70012", v / 2))]
    return csv(table("Meter,Time,kWh", rows))


@portal()
def power_beside_a_column_that_says_nothing(made: Made) -> Written:
    return csv(
        table(
            "Time,Power (W),Level",
            [f"{iso(t)},{watts(v, made):.4f},{30 + i % 7}" for i, (t, v) in enumerate(made.pairs)],
        )
    )


# ---- clocks and hours in other shapes, and what names its unit or its direction elsewhere


@portal()
def watt_hours_in_the_cells(made: Made) -> Written:
    return csv(table("Date,Usage", [f"{iso(t)},{v * 1000:.0f} Wh" for t, v in made.pairs]))


@portal()
def kilowatt_hours_and_watt_hours_in_the_cells(made: Made) -> Written:
    cells = [f"{v:.3f} kWh" if v >= 0.4 else f"{v * 1000:.0f} Wh" for v in made.kwh.tolist()]
    return csv(table("Date,Usage", [f"{iso(t)},{cell}" for t, cell in zip(made.begins, cells, strict=True)]))


@portal()
def a_title_says_utc(made: Made) -> Written:
    rows = [f"{t.astimezone(UTC):%Y-%m-%d %H:%M},{v:.3f}" for t, v in made.pairs]
    return csv("All times are in UTC\n" + table("time,kWh", rows))


@portal(steps=(60,))
def the_hour_that_comes_twice_is_marked(made: Made) -> Written:
    return csv(
        table("Date,HE,kWh", [f"{t:%m/%d/%Y},{t.hour + 1:02d}{'X' if t.fold else ''},{v:.3f}" for t, v in made.pairs])
    )


@portal(steps=(60,))
def the_clock_time_that_comes_twice_has_a_star(made: Made) -> Written:
    return csv(
        table("Date,Time,kWh", [f"{t:%m/%d/%Y},{t:%H:%M}{' *' if t.fold else ''},{v:.3f}" for t, v in made.pairs])
    )


def _with_another_hour(made: Made, names: list[str], extra: str) -> Written:
    rows = []
    for day, cells in by_day(made).items():
        by_name = {f"HE{t.hour + 1:02d}{'X' if t.fold else ''}": f"{v:.3f}" for t, v in cells}
        rows.append(f"{day}," + ",".join(by_name.get(name, extra if name == "HE02X" else "") for name in names))
    return csv(table("Date," + ",".join(names), rows))


HOURS = [f"HE{hour:02d}" for hour in range(1, 25)]


@portal(steps=(60,))
def a_day_a_row_with_the_hour_that_comes_twice_in_place(made: Made) -> Written:
    return _with_another_hour(made, [*HOURS[:2], "HE02X", *HOURS[2:]], "")


@portal(steps=(60,))
def a_day_a_row_with_the_hour_that_comes_twice_last_and_zero(made: Made) -> Written:
    return _with_another_hour(made, [*HOURS, "HE02X"], "0.000")


@portal(steps=(15, 30))
def hour_and_minute_apart(made: Made) -> Written:
    return csv(table("DATE,HR,MIN,KWH", [f"{t:%m/%d/%Y},{t.hour},{t.minute},{v:.3f}" for t, v in made.pairs]))


@portal(steps=(15,))
def hour_and_quarter_counted_from_one(made: Made) -> Written:
    rows = [f"{t:%m/%d/%Y},{t.hour + 1},{t.minute // 15 + 1},{v:.3f}" for t, v in made.pairs]
    return csv(table("DATE,HOUR,QTR,KWH", rows))


@portal("Europe/Helsinki")
def clock_times_with_points(made: Made) -> Written:
    rows = [f"{t.day}.{t.month}.{t.year};{t:%H.%M};" + f"{v:.3f}".replace(".", ",") for t, v in made.pairs]
    return csv(table("Päivä;Aika;Kulutus kWh", rows))


@portal()
def an_object_code_with_eight_digits_in_watt_hours(made: Made) -> Written:
    at = [*made.begins, ended(made)[-1][0]]
    values = 51_234_000 + np.concatenate([[0], np.cumsum(np.round(made.kwh * 1000).astype(int))])
    return csv(table("timestamp,1.8.0 [Wh]", [f"{t:%Y-%m-%dT%H:%M:%S%z},{v}" for t, v in zip(at, values, strict=True)]))


@portal()
def files_whose_titles_say_the_direction(made: Made) -> Written:
    def file(title: str, values: np.ndarray) -> str:
        rows = [f"{t:%m/%d/%Y %H:%M},{v:.3f}" for t, v in zip(made.begins, values.tolist(), strict=True)]
        return f"Channel: kWh {title} customer\n\n" + table("Time,kWh", rows)

    files = {"interval/A.csv": file("delivered to", made.kwh), "interval/B.csv": file("received from", made.back)}
    return Written(dict(files), back=True)


@portal()
def rows_from_and_to_the_customer(made: Made) -> Written:
    names = ("Energy Delivered to Customer", "Energy Received from Customer")
    rows = [f"{iso(t)},{name},{x:.3f}" for t, v, b in both(made) for name, x in zip(names, (v, b), strict=True)]
    return csv(table("Time,Type,kWh", rows), back=True)


@portal(steps=(60,), autumn=False)
def days_side_by_side_in_blocks(made: Made) -> Written:
    days = list(by_day(made).items())
    blocks = []
    for pair in (days[:2], days[2:]):
        hours = sorted({t.hour for _, cells in pair for t, _ in cells})
        rows = [
            f"{hour}:00," + ",".join(next((f"{v:.3f}" for t, v in cells if t.hour == hour), "") for _, cells in pair)
            for hour in hours
        ]
        blocks.append(table("Hour," + ",".join(f"{day:%m/%d/%Y}" for day, _ in pair), rows))
    return csv("\n".join(blocks))


@portal(steps=(15,))
def power_in_small_letters(made: Made) -> Written:
    return csv(table("time,power_w", [f"{iso(t)},{watts(v, made):.4f}" for t, v in made.pairs]))

"""More layouts, as people download them in other countries and from other programs; every one is invented here.

``daily records`` follow the shape of an open national standard for meter data, from memory.
"""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from interval_layouts import Layout, Made, Written, comma, csv, iso, rows_of, table, us

WORLD: dict[str, Layout] = {}
ZONES: dict[str, ZoneInfo] = {}
NO_AUTUMN = {
    *("days across", "days across with hours ending and totals", "wide with a unit and a flow", "spanish columns"),
    "year month day and hour ending apart",
}
"""Layouts with no place for the hour that the clock repeats."""
STEPS: dict[str, tuple[int, ...]] = {}
"""Steps in minutes that a layout can hold, where not any."""

BERLIN, SYDNEY, LONDON = ZoneInfo("Europe/Berlin"), ZoneInfo("Australia/Sydney"), ZoneInfo("Europe/London")
KOLKATA = ZoneInfo("Asia/Kolkata")


def world(zone: ZoneInfo | None = None, steps: tuple[int, ...] = ()) -> Callable[[Layout], Layout]:
    def add(function: Layout) -> Layout:
        name = function.__name__.replace("_", " ")
        WORLD[name] = function
        if zone is not None:
            ZONES[name] = zone
        if steps:
            STEPS[name] = steps
        return function

    return add


def serial(t: datetime) -> float:
    return (t.replace(tzinfo=None) - datetime(1899, 12, 30)).total_seconds() / 86_400


def away(t: datetime) -> str:
    """Distance from UTC as -6 or +5:30."""
    minutes = int(t.utcoffset().total_seconds() // 60)  # type: ignore[union-attr]
    half = f":{abs(minutes) % 60:02d}" if minutes % 60 else ""
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60}{half}"


# ---- dates and clocks


@world()
def dates_counted_by_a_spreadsheet(made: Made) -> Written:
    return csv(table("Date/Time,kWh", [f"{serial(t):.10f},{v:.3f}" for t, v in made.pairs]))


@world()
def dates_and_clocks_counted_by_a_spreadsheet(made: Made) -> Written:
    rows = [f"{int(serial(t) + 1e-9)},{(t.hour * 60 + t.minute) / 1440:.9f},{v:.3f}" for t, v in made.pairs]
    return csv(table("Date,Time,kWh", rows))


@world()
def year_month_day_and_hour_apart(made: Made) -> Written:
    rows = [f"{t.year},{t.month},{t.day},{t.hour},{t.minute},{v:.3f}" for t, v in made.pairs]
    return csv(table("Year,Month,Day,Hour,Minute,kWh", rows))


@world(steps=(60,))
def year_month_day_and_hour_ending_apart(made: Made) -> Written:
    rows = [f"{t.year},{t.month},{t.day},{t.hour + 1},{v:.3f}" for t, v in made.pairs]
    return csv(table("year,month,day,hour_ending,kwh", rows))


def _slot(made: Made) -> list[tuple[datetime, int, float]]:
    out, day, number = [], None, 0
    for t, v in made.pairs:
        number = 1 if t.date() != day else number + 1
        day = t.date()
        out.append((t, number, v))
    return out


@world(LONDON, steps=(30,))
def settlement_periods(made: Made) -> Written:
    return csv(
        table("Settlement Date,Settlement Period,kWh", [f"{t:%d/%m/%Y},{n},{v:.3f}" for t, n, v in _slot(made)]),
        "[bills]\ndate_format = 'DD/MM/YYYY'\n",
    )


@world(steps=(15,))
def numbers_of_quarters(made: Made) -> Written:
    return csv(table("Date,Interval,kWh", [f"{t:%Y-%m-%d},{n},{v:.3f}" for t, n, v in _slot(made)]))


@world()
def clock_as_a_plain_number(made: Made) -> Written:
    return csv(table("Date,Time,kWh", [f"{t:%Y-%m-%d},{t.hour * 100 + t.minute},{v:.3f}" for t, v in made.pairs]))


@world()
def clock_ends_as_a_plain_number(made: Made) -> Written:
    def stamp(t: datetime) -> str:
        if t.hour or t.minute:
            return f"{t:%Y%m%d},{t:%H%M}"
        return f"{t - timedelta(days=1):%Y%m%d},2400"

    return csv(table("READ_DATE,READ_TIME,KWH", rows_of(made, stamp, end=True)))


@world()
def ends_a_second_early(made: Made) -> Written:
    rows = [f"{e - timedelta(seconds=1):%Y-%m-%d %H:%M:%S},{v:.3f}" for e, v in zip(made.ends, made.kwh, strict=True)]
    return csv(table("Timestamp,kWh", rows))


@world()
def ends_a_minute_early(made: Made) -> Written:
    rows = [f"{iso(e - timedelta(minutes=1))},{v:.3f}" for e, v in zip(made.ends, made.kwh, strict=True)]
    return csv(table("Date and time,kWh", rows))


@world()
def distances_with_letters(made: Made) -> Written:
    return csv(table("time,kWh", rows_of(made, lambda t: f"{t:%Y-%m-%d %H:%M:%S} GMT{away(t)}")))


@world()
def short_distances(made: Made) -> Written:
    return csv(table("time,kWh", rows_of(made, lambda t: f"{t:%Y-%m-%d %H:%M:%S} UTC{away(t)}")))


@world(SYDNEY)
def letters_of_the_houses_own_clock(made: Made) -> Written:
    return csv(table("time,kWh", rows_of(made, lambda t: f"{t:%Y-%m-%d %H:%M} {t.tzname()}")))


@world(KOLKATA)
def letters_that_other_lands_use_too(made: Made) -> Written:
    return csv(table("time,kWh", rows_of(made, lambda t: f"{t:%d-%b-%Y %I:%M %p} {t.tzname()}")))


@world(ZoneInfo("Asia/Shanghai"))
def letters_that_mean_another_clock_elsewhere(made: Made) -> Written:
    return csv(table("time,kWh", rows_of(made, lambda t: f"{t:%Y-%m-%d %H:%M} CST")))


@world()
def a_column_that_says_summer_time(made: Made) -> Written:
    rows = [f"{iso(t)},{'Y' if t.dst() else 'N'},{v:.3f}" for t, v in made.pairs]
    return csv(table("Local Time,DST,kWh", rows))


@world()
def a_column_of_the_distance(made: Made) -> Written:
    rows = [f"{iso(t)},{away(t)},{v:.3f}" for t, v in made.pairs]  # type: ignore[union-attr]
    return csv(table("Local Time,UTC Offset,kWh", rows))


@world(BERLIN)
def letters_at_the_repeated_hour(made: Made) -> Written:
    def clock(t: datetime) -> str:
        twice = t.replace(fold=0).utcoffset() != t.replace(fold=1).utcoffset() and t.hour == 2
        return f"{t:%H}{('B' if t.fold else 'A') if twice else ''}:{t:%M}"

    rows = [f"{t:%d.%m.%Y};{clock(t)};{comma(v)}" for t, v in made.pairs]
    return csv(table("Datum;Zeit;kWh", rows), "[bills]\ndate_format = 'DD.MM.YYYY'\n")


@world()
def local_and_utc_beside_each_other(made: Made) -> Written:
    rows = [f"{iso(t)},{iso(t.astimezone(UTC))},{v:.3f}" for t, v in made.pairs]
    return csv(table("Time (local),Time (UTC),kWh", rows))


@world()
def epoch_microseconds(made: Made) -> Written:
    return csv(table("time,kWh", rows_of(made, lambda t: str(int(t.timestamp()) * 1_000_000))))


@world()
def epoch_nanoseconds(made: Made) -> Written:
    return csv(table("name,time,value", [f"kWh,{int(t.timestamp())}000000000,{v:.3f}" for t, v in made.pairs]))


@world()
def epoch_with_a_fraction(made: Made) -> Written:
    return csv(table("unix_time,kWh", rows_of(made, lambda t: f"{t.timestamp():.3f}")))


@world(BERLIN)
def german_months(made: Made) -> Written:
    names = ["Jan", "Feb", "Mär", "Apr", "Mai", "Jun", "Jul", "Aug", "Sep", "Okt", "Nov", "Dez"]
    rows = [f"{t.day}. {names[t.month - 1]} {t.year} {t:%H:%M};{comma(v)}" for t, v in made.pairs]
    return csv(table("Zeitpunkt;Verbrauch (kWh)", rows))


@world(ZoneInfo("Europe/Paris"))
def french_months(made: Made) -> Written:
    names = ["janv.", "févr.", "mars", "avr.", "mai", "juin", "juil.", "août", "sept.", "oct.", "nov.", "déc."]
    rows = [f"{t.day} {names[t.month - 1]} {t.year} {t:%H:%M};{v * 1000:.0f}" for t, v in made.pairs]
    return csv(table("Horodate;Valeur (Wh)", rows))


@world(ZoneInfo("Europe/Madrid"), steps=(60,))
def spanish_columns(made: Made) -> Written:
    rows = [f"{t:%d/%m/%Y};{t.hour + 1};{comma(v)}" for t, v in made.pairs]
    return csv(table("Fecha;Hora;Consumo_kWh", rows), "[bills]\ndate_format = 'DD/MM/YYYY'\n")


@world(BERLIN)
def german_draw_and_feed_in(made: Made) -> Written:
    both = zip(made.begins, made.kwh, made.back, strict=True)
    rows = [f"{t:%d.%m.%Y %H:%M};{comma(v)};{comma(b)}" for t, v, b in both]
    names = "Zeitstempel;Bezug kWh;Einspeisung kWh"
    return csv(table(names, rows), "[bills]\ndate_format = 'DD.MM.YYYY'\n", back=True)


@world(ZoneInfo("Europe/Amsterdam"))
def dutch_draw_and_return(made: Made) -> Written:
    rows = [f"{t:%d-%m-%Y %H:%M},{v:.3f},{b:.3f}" for t, v, b in zip(made.begins, made.kwh, made.back, strict=True)]
    names = "Datum,Verbruik (kWh),Teruglevering (kWh)"
    return csv(table(names, rows), "[bills]\ndate_format = 'DD-MM-YYYY'\n", back=True)


@world(BERLIN)
def object_codes(made: Made) -> Written:
    rows = [f"{t.isoformat()},{v:.3f},{b:.3f}" for t, v, b in zip(made.begins, made.kwh, made.back, strict=True)]
    return csv(table("timestamp,1-1:1.29.0 [kWh],1-1:2.29.0 [kWh]", rows), back=True)


@world(ZoneInfo("Europe/Amsterdam"))
def registers_of_two_prices_and_both_ways(made: Made) -> Written:
    night = np.array([t.hour < 7 for t in made.begins])
    bases = (1001.5, 2002.25, 310.0, 805.0)
    parts = [np.where(when, energy, 0.0) for energy in (made.kwh, made.back) for when in (night, ~night)]
    shown = [base + np.concatenate([[0.0], np.cumsum(part)]) for base, part in zip(bases, parts, strict=True)]
    rows = [
        ",".join([t.isoformat(), *(f"{one[i]:.3f}" for one in shown)])
        for i, t in enumerate([*made.begins, made.ends[-1]])
    ]
    return csv(table("time,Import T1 kWh,Import T2 kWh,Export T1 kWh,Export T2 kWh", rows), back=True)


# ---- days across, parts of the day, rows of a standard


@world(steps=(15, 30, 60))
def days_across(made: Made) -> Written:
    days = list(dict.fromkeys(t.date() for t in made.begins))
    clocks = [f"{m // 60:02d}:{m % 60:02d}" for m in range(0, 1440, made.step // 60)]
    cells = {(f"{t:%H:%M}", t.date()): f"{v:.3f}" for t, v in made.pairs}
    rows = [",".join([clock, *(cells.get((clock, day), "") for day in days)]) for clock in clocks]
    return csv(table(",".join(["Time", *map(str, days)]), rows))


@world(steps=(60,))
def days_across_with_hours_ending_and_totals(made: Made) -> Written:
    days = list(dict.fromkeys(t.date() for t in made.begins))
    cells = {(t.hour, t.date()): v for t, v in made.pairs}
    rows = [
        ",".join([f"HE{h + 1:02d}", *(f"{cells[h, d]:.3f}" if (h, d) in cells else "" for d in days)])
        for h in range(24)
    ]
    total = ",".join(["Total", *(f"{sum(v for (h, x), v in cells.items() if x == d):.3f}" for d in days)])
    return csv("Hourly usage (kWh)\n" + table(",".join(["Hour", *(f"{d:%m/%d/%Y}" for d in days)]), [*rows, total]))


@world()
def peak_and_off_peak_as_columns(made: Made) -> Written:
    rows = [f"{iso(t)},{v if 16 <= t.hour < 21 else 0:.3f},{0 if 16 <= t.hour < 21 else v:.3f}" for t, v in made.pairs]
    return csv(table("time,On-Peak kWh,Off-Peak kWh", rows))


@world()
def peak_shoulder_night_and_total(made: Made) -> Written:
    rows = []
    for t, v in made.pairs:
        at = 0 if 16 <= t.hour < 21 else 2 if t.hour < 7 else 1
        cells = ["", "", ""]
        cells[at] = f"{v:.3f}"
        rows.append(",".join([iso(t), *cells, f"{v:.3f}"]))
    return csv(table("time,Peak (kWh),Shoulder (kWh),Off-peak (kWh),Total (kWh)", rows))


@world()
def peak_and_off_peak_as_rows(made: Made) -> Written:
    rows = []
    for t, v in made.pairs:
        on = 16 <= t.hour < 21
        rows += [f"{iso(t)},On-Peak,{v if on else 0:.3f}", f"{iso(t)},Off-Peak,{0 if on else v:.3f}"]
    return csv(table("time,TOU Period,kWh", rows))


@world(ZoneInfo("Europe/Paris"))
def full_and_hollow_hours_as_registers(made: Made) -> Written:
    low = np.array([t.hour < 6 for t in made.begins])
    hollow = 8_000 + np.concatenate([[0.0], np.cumsum(np.where(low, made.kwh, 0))])
    full = 12_000 + np.concatenate([[0.0], np.cumsum(np.where(low, 0, made.kwh))])
    rows = [
        f"{t.isoformat()};{a:.3f};{b:.3f}" for t, a, b in zip([*made.begins, made.ends[-1]], hollow, full, strict=True)
    ]
    return csv(table("Horodatage;HC (kWh);HP (kWh)", rows))


def _nem(made: Made, values: np.ndarray, suffix: str) -> list[str]:
    per_day = 86_400 // made.step
    out = [f"200,6123456789,E1B1,{1 if suffix == 'E1' else 2},{suffix},N1,METER7,KWH,{made.step // 60},"]
    for low in range(0, len(values), per_day):
        t = made.begins[0].replace(tzinfo=None) + timedelta(seconds=low * made.step)
        cells = ",".join(f"{v:.3f}" for v in values[low : low + per_day])
        out.append(f"300,{t:%Y%m%d},{cells},A,,,20250401120000,")
    return out


@world(ZoneInfo("Australia/Brisbane"), steps=(5, 15, 30))
def daily_records_with_a_header(made: Made) -> Written:
    rows = ["100,NEM12,202504011200,MDP1,RETAIL1", *_nem(made, made.kwh, "E1"), "900"]
    return Written({"interval.csv": "\n".join(rows) + "\n"})


@world(ZoneInfo("Australia/Brisbane"), steps=(5, 15, 30))
def daily_records_of_both_ways(made: Made) -> Written:
    rows = ["100,NEM12,202504011200,MDP1,RETAIL1", *_nem(made, made.kwh, "E1"), *_nem(made, made.back, "B1"), "900"]
    return Written({"interval.csv": "\n".join(rows) + "\n"}, back=True)


@world(steps=(15, 30, 60))
def wide_with_a_unit_and_a_flow(made: Made) -> Written:
    per_day = 86_400 // made.step
    out = []
    for flow, values in (("Consumption", made.kwh), ("Generation", made.back)):
        days: dict[date, list[float]] = {}
        for t, v in zip(made.begins, values, strict=True):
            days.setdefault(t.date(), []).append(v)
        for day, row in days.items():
            cells = [f"{row[i] * 1000:.0f}" if i < len(row) else "" for i in range(per_day)]
            out.append(",".join(["7712", f"{day:%Y%m%d}", flow, "Wh", *cells]))
    names = [f"INT{i + 1:03d}" for i in range(per_day)]
    return csv(table(",".join(["METER", "DAY", "FLOW", "UOM", *names]), out), back=True)


# ---- registers and counters


@world()
def a_counter_that_begins_again_each_day(made: Made) -> Written:
    rows, total, day = [], 0.0, None
    for b, e, v in zip(made.begins, made.ends, made.kwh, strict=True):
        total = v if b.date() != day else total + v
        day = b.date()
        rows.append(f"{e.isoformat()},{total:.3f}")
    return csv(table("Interval end,Energy today (kWh)", rows))


@world()
def a_register_in_files_of_days(made: Made) -> Written:
    values = 5_310.25 + np.concatenate([[0.0], np.cumsum(made.kwh)])
    files: dict[str, list[str]] = {}
    for t, v in zip([*made.begins, made.ends[-1]], values, strict=True):
        files.setdefault(f"interval/{t:%Y-%m-%d}.csv", []).append(f"{t.isoformat()},{v:.3f}")
    return Written({name: table("time,Meter reading (kWh)", part) for name, part in files.items()})


@world()
def a_register_beside_the_energy(made: Made) -> Written:
    values = 9_000 + np.cumsum(made.kwh)
    rows = [f"{iso(t)},{x:.3f},{v:.3f}" for (t, v), x in zip(made.pairs, values, strict=True)]
    return csv(table("time,Register kWh,Interval kWh", rows))


@world(BERLIN)
def a_counter_in_german(made: Made) -> Written:
    values = 5_310.25 + np.concatenate([[0.0], np.cumsum(made.kwh)])
    rows = [
        f"{t.isoformat()};{v:.3f}".replace(".", ",") for t, v in zip([*made.begins, made.ends[-1]], values, strict=True)
    ]
    return csv(table("Zeitstempel;Zählerstand (kWh)", rows))


# ---- what stands beside the values


@world()
def an_index_column(made: Made) -> Written:
    return csv(table(",time,kwh", [f"{i},{row}" for i, row in enumerate(rows_of(made, iso))]))


@world()
def quality_words(made: Made) -> Written:
    words = ["Actual", "Questionable", "Substituted", "Validated"]
    return csv(table("time,kWh,Status", [f"{row},{words[i % 7 % 4]}" for i, row in enumerate(rows_of(made, iso))]))


@world()
def marks_behind_the_values(made: Made) -> Written:
    return csv(table("time,kWh", [f"{row}{' E' if i % 9 == 4 else ''}" for i, row in enumerate(rows_of(made, iso))]))


@world()
def cells_held_as_text(made: Made) -> Written:
    return csv(table("time,kWh", [f'="{iso(t)}",="{v:.3f}"' for t, v in made.pairs]))


@world()
def money_temperature_and_demand_beside_it(made: Made) -> Written:
    rows = [
        f"{us(t)},{v:.3f},{v * 3600 / made.step:.3f},$0.{i % 90 + 10},{40 + i % 9}°F"
        for i, (t, v) in enumerate(made.pairs)
    ]
    return csv(table("Interval Start,Usage (kWh),Peak Demand (kW),Est. Cost,Avg Temp", rows))


@world()
def names_over_two_rows(made: Made) -> Written:
    return csv("Interval,Energy,Quality\nstart,kWh,\n" + "\n".join(f"{r},A" for r in rows_of(made, iso)) + "\n")


@world()
def two_meters_of_which_one_was_exchanged(made: Made) -> Written:
    n = len(made.kwh) // 2
    rows = [f"{'1AB77' if i < n else '2CD80'},{row}" for i, row in enumerate(rows_of(made, lambda t: t.isoformat()))]
    return csv(table("Meter,time,kwh", rows))


@world()
def columns_parted_by_spaces(made: Made) -> Written:
    return Written({"interval.txt": table("", [f"{t:%Y-%m-%d %H:%M}   {v:10.3f}" for t, v in made.pairs])})


@world()
def columns_parted_by_spaces_with_names(made: Made) -> Written:
    return Written(
        {
            "interval.txt": table(
                "Date        Time       kWh", [f"{t:%m/%d/%Y}  {t:%H:%M}   {v:10.3f}" for t, v in made.pairs]
            )
        }
    )


@world()
def a_table_of_a_web_page(made: Made) -> Written:
    rows = "".join(f"<tr><td>{iso(t)}</td><td>{v:.3f}</td></tr>\n" for t, v in made.pairs)
    head = "<html><head><style>td {color: red}</style></head><body><p>Usage &amp; more</p>"
    text = f"{head}<table>\n<tr><th>Date</th><th>kWh</th></tr>\n{rows}</table></body></html>"
    return Written({"interval.xls": text})


@world()
def records_in_json(made: Made) -> Written:
    data = {"meter": "88", "readings": [{"start": t.isoformat(), "kWh": round(v, 3)} for t, v in made.pairs]}
    return Written({"interval/data.json": json.dumps(data)})


@world()
def a_workbook_with_a_summary(made: Made) -> Written:
    import openpyxl

    book = openpyxl.Workbook()
    book.active.title = "Summary"
    book.active.append(["Account", "12345"])
    book.active.append(["Total kWh", float(made.kwh.sum())])
    sheet = book.create_sheet("Data")
    sheet.append(["Date", "Time", "kWh"])
    for t, v in made.pairs:
        sheet.append([t.replace(tzinfo=None, hour=0, minute=0), t.time().replace(tzinfo=None), float(v)])
    stream = io.BytesIO()
    book.save(stream)
    return Written({"interval.xlsx": stream.getvalue()})


@world()
def days_in_files_of_their_own(made: Made) -> Written:
    days: dict[date, list[str]] = {}
    for t, v in made.pairs:
        days.setdefault(t.date(), []).append(f"{t:%d/%m/%Y %H:%M},{v:.3f}")
    files = {f"interval/{day}.csv": table("time,kwh", rows) for day, rows in days.items()}
    return Written(dict(files), "[bills]\ndate_format = 'DD/MM/YYYY'\n")


@world(steps=(60,))
def days_and_hours_in_two_files(made: Made) -> Written:
    sums: dict[date, float] = {}
    for t, v in made.pairs:
        sums[t.date()] = sums.get(t.date(), 0.0) + v
    return Written(
        {
            "interval/daily.csv": table("date,kwh", [f"{d},{v:.3f}" for d, v in sums.items()]),
            "interval/hourly.csv": table("time,kwh", rows_of(made, iso)),
        }
    )


@world()
def two_tables_one_below_the_other(made: Made) -> Written:
    rows, half = rows_of(made, iso), len(made.kwh) // 2
    return csv(
        "Service,Electric\n" + table("time,kwh", rows[:half]) + "\nService,Electric\n" + table("time,kwh", rows[half:])
    )


@world()
def gas_in_a_table_below(made: Made) -> Written:
    gas = [f"{iso(t)},0.{i % 10}" for i, t in enumerate(made.begins)]
    return csv("Electricity\n" + table("time,kWh", rows_of(made, iso)) + "\nGas\n" + table("time,therms", gas))


@world()
def both_ways_in_a_table_below(made: Made) -> Written:
    back = [f"{iso(t)},{b:.3f}" for t, b in zip(made.begins, made.back, strict=True)]
    return csv(
        "Delivered\n" + table("time,kWh", rows_of(made, iso)) + "\nReceived\n" + table("time,kWh", back), back=True
    )


@world()
def start_and_minutes(made: Made) -> Written:
    rows = [f"{iso(t)},{made.step // 60},{v:.3f}" for t, v in made.pairs]
    return csv(table("Start,Duration (minutes),kWh", rows))


@world()
def newest_day_first_within_which_time_runs_on(made: Made) -> Written:
    days: dict[date, list[str]] = {}
    for t, v in made.pairs:
        days.setdefault(t.date(), []).append(f"{t.isoformat()},{v:.3f}")
    return csv(table("time,kwh", [row for day in sorted(days)[::-1] for row in days[day]]))


@world()
def newest_day_first_on_the_wall(made: Made) -> Written:
    days: dict[date, list[str]] = {}
    for t, v in made.pairs:
        days.setdefault(t.date(), []).append(f"{iso(t)},{v:.3f}")
    return csv(table("time,kwh", [row for day in sorted(days)[::-1] for row in days[day]]))


@world()
def hourly_power_in_kw_named_demand(made: Made) -> Written:
    rows = [f"{iso(t)},{v * 3600 / made.step:.6f}" for t, v in made.pairs]
    return csv(table("time,Demand (kW)", rows))


@world()
def rows_ending_in_a_comma(made: Made) -> Written:
    return csv(table("time,kwh,", [row + "," for row in rows_of(made, iso)]))


@world()
def unit_miswritten(made: Made) -> Written:
    return csv(table("time,Usage (KWHR)", rows_of(made, iso)))


@world(ZoneInfo("Europe/Moscow"))
def cyrillic_unit(made: Made) -> Written:
    rows = [f"{t:%d.%m.%Y %H:%M};{comma(v)}" for t, v in made.pairs]
    return csv(table("Дата;Расход (кВт·ч)", rows), "[bills]\ndate_format = 'DD.MM.YYYY'\n")


@world(ZoneInfo("Asia/Tokyo"))
def japanese_dates(made: Made) -> Written:
    return csv(table("日付,時刻,電力量(kWh)", [f"{t:%Y年%m月%d日},{t:%H:%M},{v:.3f}" for t, v in made.pairs]))


# ---- smaller habits


@world()
def a_column_that_says_valid(made: Made) -> Written:
    return csv(table("time,kWh,Valid", [f"{row},Y" for row in rows_of(made, iso)]))


@world()
def spans_without_blanks(made: Made) -> Written:
    rows = [f"{b:%Y-%m-%d %H:%M}-{e:%H:%M},{v:.3f}" for b, e, v in zip(made.begins, made.ends, made.kwh, strict=True)]
    return csv(table("time,kWh", rows))


@world()
def day_and_night_as_columns(made: Made) -> Written:
    return csv(table("time,Day kWh,Night kWh", [f"{iso(t)},{v * 0.25:.5f},{v * 0.75:.5f}" for t, v in made.pairs]))


@world()
def a_line_that_names_the_separator(made: Made) -> Written:
    return csv("sep=;\n" + table("time;kWh", [f"{iso(t)};{comma(v)}" for t, v in made.pairs]))


@world()
def distances_in_brackets(made: Made) -> Written:
    return csv(table("time,kWh", rows_of(made, lambda t: f"{t:%Y-%m-%d %H:%M} (UTC{away(t)})")))


@world()
def energy_and_power_as_rows(made: Made) -> Written:
    rows = [f"{iso(t)},{x:.3f},{u}" for t, v in made.pairs for x, u in ((v, "kWh"), (v * 4, "kW"))]
    return csv(table("time,value,unit", rows))


@world()
def months_within_digits(made: Made) -> Written:
    return csv(table("time,kWh", rows_of(made, lambda t: f"{t:%d%b%Y:%H:%M:%S}")))


@world()
def compact_in_utc(made: Made) -> Written:
    return csv(table("time,kWh", rows_of(made, lambda t: f"{t.astimezone(UTC):%Y%m%dT%H%M%SZ}")))


@world(steps=(60,))
def totals_between_the_days(made: Made) -> Written:
    out, total = [], 0.0
    for i, (t, v) in enumerate(made.pairs):
        out.append(f"{t:%Y-%m-%d},{t:%H:%M},{v:.3f}")
        total += v
        if i + 1 == len(made.kwh) or made.begins[i + 1].date() != t.date():
            out.append(f"{t:%Y-%m-%d},Total,{total:.3f}")
            total = 0.0
    return csv(table("Date,Hour,kWh", out))


@world()
def blank_lines_between_the_days(made: Made) -> Written:
    return csv(
        table("time,kWh", [x for i, r in enumerate(rows_of(made, iso)) for x in ([r, ""] if i % 9 == 8 else [r])])
    )


@world()
def a_page_below_the_table(made: Made) -> Written:
    return csv(
        table("time,kWh", rows_of(made, iso)) + "\n\nDisclaimer: values may change.\nPage 1 of 1\n2025 Utility\n"
    )


@world()
def records_of_a_logger(made: Made) -> Written:
    rows = [
        f"s1,{name},{t.isoformat()},{x:.3f}"
        for t, v in made.pairs
        for name, x in (("energy_kwh", v), ("temperature", 20.5))
    ]
    return csv(table("sensor,name,time,value", rows))


@world()
def am_and_pm_in_a_column(made: Made) -> Written:
    rows = [f"{t:%Y-%m-%d},{t:%I:%M},{t:%p},{v:.3f}" for t, v in made.pairs]
    return csv(table("Date,Time,AM/PM,kWh", rows))


@world(steps=(60,))
def hours_with_an_h(made: Made) -> Written:
    rows = [
        f"{t:%Y-%m-%d};{t:%H}h-{e:%H}h;{comma(v)}" for t, e, v in zip(made.begins, made.ends, made.kwh, strict=True)
    ]
    return csv(table("Dag;Tijd;kWh", rows))


@world()
def registers_of_both_ways(made: Made) -> Written:
    drawn = 1000 + np.concatenate([[0.0], np.cumsum(made.kwh)])
    back = 500 + np.concatenate([[0.0], np.cumsum(made.back)])
    rows = [
        f"{t.isoformat()},{a:.3f},{b:.3f}" for t, a, b in zip([*made.begins, made.ends[-1]], drawn, back, strict=True)
    ]
    return csv(table("time,1-0:1.8.0,1-0:2.8.0", rows), back=True)


@world()
def a_register_of_both_ways_at_once(made: Made) -> Written:
    shown = 1000 + np.concatenate([[0.0], np.cumsum(made.kwh - made.back)])
    rows = [f"{t.isoformat()},{v:.3f}" for t, v in zip([*made.begins, made.ends[-1]], shown, strict=True)]
    return csv(table("time,Net meter reading kWh", rows), net=True)


@dataclass
class Asked:
    """A file that leaves something open, part of the question, and what answers it."""

    files: dict[str, str | bytes]
    asks: str
    toml: str = ""
    other: dict[str, str | bytes] | None = None
    """Files that answer it, where no setting does."""
    factor: float = 1.0
    added: float = 0.0


def asked(made: Made) -> dict[str, Asked]:
    """Files with one question each."""

    def one(text: str) -> dict[str, str | bytes]:
        return {"interval.csv": text}

    rows = rows_of(made, iso)
    meters = [f"{meter},{row if meter == 88123 else row + '1'}" for meter in (88123, 88124) for row in rows]
    still = [f"{iso(t)},{0.03 if i < 60 else 0.04}" for i, t in enumerate(made.begins)]
    thousands = [f"{iso(t)};{1 + v:.3f}" for t, v in made.pairs]
    commas = [f"{iso(t)};{comma(1 + v)}" for t, v in made.pairs]
    apart = [f"{iso(t)},{v:.3f},{v / 4:.5f},{v / 4:.5f}" for t, v in made.pairs]
    twice = [f"{iso(t)},{v:.3f},{v * 2:.3f}" for t, v in made.pairs]
    days = [f"{t:%Y-%m-%d},{v:.3f}" for t, v in made.pairs]
    hours = [f"{t:%Y-%m-%d},{t:%H:%M},{v:.3f}" for t, v in made.pairs]
    counter = np.cumsum(made.kwh) % 7.3
    again = [f"{iso(t)},{v:.3f}" for t, v in zip(made.begins, counter, strict=True)]
    plain = one(table("time,kWh", rows))
    flat = one(table("time,interval kWh", still))
    return {
        "kW/h": Asked(one(table("time,Usage (kW/h)", rows)), "kW/h", "[interval]\nunit = 'kWh'\n"),
        "meters": Asked(one(table("meter number,time,kWh", meters)), "88123, 88124", "[interval]\nchannel = '88123'\n"),
        "commas": Asked(one(table("time,kWh", [f"{iso(t)},{comma(v)}" for t, v in made.pairs])), "a comma", "", plain),
        "parts": Asked(
            one(table("time,kWh,On-Peak kWh,Off-Peak kWh", apart)), "add up", "[interval]\nchannel = 'kWh'\n"
        ),
        "one name twice": Asked(one(table("time,kWh,kWh", twice)), "kWh, kWh 2", "[interval]\nchannel = 'kWh'\n"),
        "another year": Asked(
            one(table("time,This kWh,Last kWh", twice)), "This kWh", "[interval]\nchannel = 'This kWh'\n"
        ),
        "points": Asked(
            one(table("time;kWh", thousands)), "number_format", "[bills]\nnumber_format = '1,234.56'\n", added=1.0
        ),
        "decimal commas": Asked(
            one(table("time;kWh", commas)), "number_format", "[bills]\nnumber_format = '1.234,56'\n", added=1.0
        ),
        "no hours": Asked(one(table("Date,kWh", days)), "the same day", "", one(table("Date,Hour,kWh", hours))),
        "gas alone": Asked(one(table("time,therms", rows)), "no electricity", "", plain),
        "nothing happens": Asked(one(table("time,kWh", still)), "running register", "", flat, factor=0.0),
        "a counter": Asked(one(table("time,kWh", again)), "begin again", "", plain),
    }

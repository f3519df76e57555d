"""Downloads in which a careless reader counts too much or too little."""

from __future__ import annotations

import io
import json
from datetime import datetime, timedelta

import numpy as np
from interval_layouts import Layout, Made, Written, comma, csv, iso, table
from interval_layouts_fresh import by_day, ended, registers, zipped

WARY: dict[str, Layout] = {}
ASKS = {
    "channel numbers with a key above": ("names more than one register", "1"),
    "another house in the rows": ("names more than one register", "House"),
    "json a list of two meters": ("names more than one register", "House"),
}
"""What leaves one thing open: part of the question, and the channel that answers it."""

wary = registers(WARY)


@wary()
def json_whose_unit_stands_above(made: Made) -> Written:
    data = {"meta": {"unit": "Wh"}, "series": [{"t": t.isoformat(), "v": round(v * 1000)} for t, v in made.pairs]}
    return Written({"interval.json": json.dumps(data)})


@wary()
def json_columns_in_watts(made: Made) -> Written:
    data = {"unit": "W", "start": [t.isoformat() for t in made.begins],
            "mean": [round(v * 3.6e6 / made.step, 4) for v in made.kwh.tolist()]}  # fmt: skip
    return Written({"interval.json": json.dumps(data)})


@wary()
def json_of_two_flows(made: Made) -> Written:
    data = {
        "flow": {
            "import": [{"t": t.isoformat(), "kwh": v} for t, v in made.pairs],
            "export": [{"t": t.isoformat(), "kwh": float(b)} for t, b in zip(made.begins, made.back, strict=True)],
        }
    }
    return Written({"interval.json": json.dumps(data)}, back=True)


@wary()
def daily_totals_labelled_in_the_clock(made: Made) -> Written:
    rows = []
    for day, values in by_day(made).items():
        rows += [f"{day:%m/%d/%Y},{t:%H:%M},{v:.3f}" for t, v in values]
        rows.append(f"{day:%m/%d/%Y},Total,{sum(v for _, v in values):.3f}")
    return csv(table("Date,Time,kWh", rows))


@wary(autumn=False)
def hourly_and_daily_sheets(made: Made) -> Written:
    import openpyxl

    book = openpyxl.Workbook()
    one = book.active
    one.title = "Daily"
    one.append(["Date", "kWh"])
    for day, values in by_day(made).items():
        one.append([datetime.combine(day, datetime.min.time()), round(sum(v for _, v in values), 3)])
    two = book.create_sheet("Interval")
    two.append(["Date and time", "kWh"])
    for t, v in made.pairs:
        two.append([t.replace(tzinfo=None), v])
    out = io.BytesIO()
    book.save(out)
    return Written({"interval.xlsx": out.getvalue()})


@wary(steps=(15, 30))
def quarters_and_hours_in_one_zip(made: Made) -> Written:
    fine = table("time,kwh", [f"{t.isoformat()},{v:.3f}" for t, v in made.pairs])
    per = 3600 // made.step
    sums = made.kwh[: len(made.kwh) // per * per].reshape(-1, per).sum(axis=1)
    coarse = table("time,kwh", [f"{t.isoformat()},{v:.3f}" for t, v in zip(made.begins[::per], sums, strict=True)])
    return Written({"interval.zip": zipped({"quarters.csv": fine.encode(), "hours.csv": coarse.encode()})})


@wary()
def months_that_overlap_by_a_day(made: Made) -> Written:
    rows = [f"{t.isoformat()},{v:.3f}" for t, v in made.pairs]
    half, day = len(rows) // 2, 86400 // made.step
    files = {"a.csv": rows[: half + day], "b.csv": rows[half:]}
    return Written({"interval.zip": zipped({n: table("time,kwh", r).encode() for n, r in files.items()})})


@wary()
def the_same_file_twice(made: Made) -> Written:
    text = table("time,kwh", [f"{t.isoformat()},{v:.3f}" for t, v in made.pairs])
    return Written({"interval/usage.csv": text, "interval/usage (1).csv": text})


@wary()
def register_in_watt_hours(made: Made) -> Written:
    register = np.concatenate([[0], np.cumsum(np.round(made.kwh * 1000))]) + 8_811_204
    stamps = [*made.begins, made.ends[-1]]
    return csv(table("Time,Meter reading (Wh)", [f"{iso(t)},{r:.0f}" for t, r in zip(stamps, register, strict=True)]))


@wary()
def two_registers_running(made: Made) -> Written:
    one = np.concatenate([[0.0], np.cumsum(made.kwh)]) + 4410.5
    two = np.concatenate([[0.0], np.cumsum(made.back)]) + 77.25
    stamps = [*made.begins, made.ends[-1]]
    rows = [f"{t.isoformat()},{a:.3f},{b:.3f}" for t, a, b in zip(stamps, one, two, strict=True)]
    return csv(table("Timestamp,Import register (kWh),Export register (kWh)", rows), back=True)


@wary()
def drawn_below_zero(made: Made) -> Written:
    rows = [f"{iso(t)},{-v:.3f},{b:.3f}" for (t, v), b in zip(made.pairs, made.back, strict=True)]
    return csv(table("time,Consumption (kWh),Generation (kWh)", rows), back=True)


@wary()
def demand_and_energy_and_money(made: Made) -> Written:
    rows = [f"{iso(t)},{v * 3600 / made.step:.3f},{v:.3f},{v * 0.2:.4f},71" for t, v in made.pairs]
    return csv(table("Interval,Peak demand kW,Energy kWh,Cost USD,Temp F", rows))


@wary()
def energy_without_a_unit_and_power_with_one(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{v * 3600 / made.step:.3f}" for t, v in made.pairs]
    return csv(table("Start,Energy,Power (kW)", rows))


@wary()
def start_end_and_length(made: Made) -> Written:
    rows = [
        f"{iso(t)},{iso(e)},{made.step // 60},{v:.3f}" for (t, v), (e, _) in zip(made.pairs, ended(made), strict=True)
    ]
    return csv(table("Start,End,Minutes,kWh", rows))


@wary()
def this_year_beside_last_year(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{v * 1.13:.3f}" for t, v in made.pairs]
    return csv(table("Time,This year (kWh),Last year (kWh)", rows))


@wary()
def use_beside_the_neighbors(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{v * 1.4:.3f}" for t, v in made.pairs]
    return csv(table("Time,Your usage (kWh),Similar homes (kWh)", rows))


@wary()
def energy_of_last_hour_running_within_the_day(made: Made) -> Written:
    rows = []
    for values in by_day(made).values():
        total = 0.0
        for t, v in values:
            total += v
            rows.append(f"{iso(t)},{v:.3f},{total:.3f}")
    return csv(table("Time,Usage (kWh),Cumulative today (kWh)", rows))


@wary()
def per_cent_and_forecast(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{v * 1.02:.3f},98" for t, v in made.pairs]
    return csv(table("Time,Actual kWh,Forecast kWh,Percent", rows))


@wary("Europe/Madrid", (60,))
def hours_one_to_twenty_five(made: Made) -> Written:
    rows = []
    for day, values in by_day(made).items():
        rows += [f"ES0021;{day:%d/%m/%Y};{n};{comma(v)};R" for n, (_, v) in enumerate(values, start=1)]
    return csv(table("CUPS;Fecha;Hora;Consumo_kWh;Metodo_obtencion", rows), "[bills]\ndate_format = 'DD/MM/YYYY'\n")


@wary()
def thousandths_with_points(made: Made) -> Written:
    rows = [f"{t:%d.%m.%Y %H:%M};{1000 * v:,.0f}".replace(",", ".") for t, v in made.pairs]
    return csv(table("Zeit;Verbrauch Wh", rows), "[bills]\ndate_format = 'DD.MM.YYYY'\n")


@wary()
def first_row_of_units_in_brackets(made: Made) -> Written:
    rows = [f"{iso(t)};{v * 3600 / made.step:.4f}" for t, v in made.pairs]
    return csv(table("Time;Load\n[local];[kW]", rows))


@wary()
def account_and_service_before(made: Made) -> Written:
    head = '"Name","A. Householder"\n"Address","12 Invented Lane"\n"Account","000123"\n"Service","Electric 1"\n'
    rows = [
        f'"Electric usage","{t:%Y-%m-%d}","{t:%H:%M}","{e - timedelta(minutes=1):%H:%M}","{v:.3f}","kWh",'
        f'"${v * 0.3:.2f}",""'
        for (t, v), (e, _) in zip(made.pairs, ended(made), strict=True)
    ]
    return csv(table(head + "\nTYPE,DATE,START TIME,END TIME,USAGE,UNITS,COST,NOTES", rows))


@wary()
def channel_numbers_with_a_key_above(made: Made) -> Written:
    rows = [
        f"{n},{iso(t)},{x:.3f}" for (t, v), b in zip(made.pairs, made.back, strict=True) for n, x in ((1, v), (2, b))
    ]
    return csv(table("Channel 1: kWh delivered\nChannel 2: kWh received\nChannel,Time,Value", rows), back=True)


@wary()
def zeros_where_it_was_not_read(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{'OK'}" for t, v in made.pairs]
    return csv(table("time,kwh,Validation Status", rows))


@wary()
def another_house_in_the_rows(made: Made) -> Written:
    rows = [f"{m},{iso(t)},{v * f:.3f}" for m, f in (("House", 1.0), ("Barn", 0.4)) for t, v in made.pairs]
    return csv(table("Meter,time,kwh", rows))


@wary()
def half_kilowatt_hours_a_pulse(made: Made) -> Written:
    rows = [f"{iso(t)},{v * 1000:.0f}" for t, v in made.pairs]
    return csv(table("Time,Pulses (1 Wh each)", rows))


@wary()
def json_a_list_a_month(made: Made) -> Written:
    lists: dict[str, list[dict[str, object]]] = {}
    for t, v in made.pairs:
        lists.setdefault(f"{t:%Y-%m}" if t.day % 2 else f"{t:%Y-%m}b", []).append({"t": t.isoformat(), "kwh": v})
    return Written({"interval.json": json.dumps({"months": lists})})


@wary()
def json_days_with_their_hours(made: Made) -> Written:
    days = [
        {"date": str(day), "total": round(sum(v for _, v in values), 3),
         "readings": [{"time": f"{t:%H:%M}", "kWh": v} for t, v in values]}
        for day, values in by_day(made).items()
    ]  # fmt: skip
    return Written({"interval.json": json.dumps({"account": "1", "days": days})})


@wary()
def json_a_list_of_two_meters(made: Made) -> Written:
    meters = [
        {"meter": name, "readings": [{"t": t.isoformat(), "kwh": round(v * f, 3)} for t, v in made.pairs]}
        for name, f in (("House", 1.0), ("Barn", 0.4))
    ]
    return Written({"interval.json": json.dumps(meters)})


@wary(steps=(1,))
def minutes_that_end_where_they_begin(made: Made) -> Written:
    rows = [f"{t:%m/%d/%Y},{t:%I:%M %p},{t:%I:%M %p},{v:.3f}" for t, v in made.pairs]
    return csv(table("DATE,START TIME,END TIME,USAGE (kWh)", rows))


@wary()
def price_of_a_kwh_beside_a_bare_column(made: Made) -> Written:
    rows = [f"{t:%m/%d/%Y %H:%M},{v:.3f},{0.11 if t.hour < 7 else 0.17}" for t, v in made.pairs]
    return csv("All values in kWh\n" + table("Interval Start,Value,Price per kWh", rows))


@wary()
def rate_in_money_beside_watt_hours(made: Made) -> Written:
    rows = [f"{t:%m/%d/%Y %H:%M},{v * 1000:.0f},0.1741" for t, v in made.pairs]
    return csv(table("Start,Usage (Wh),Rate ($/kWh)", rows))


@wary()
def price_of_a_kwh_beside_kilowatt_hours(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},28.4,412" for t, v in made.pairs]
    return csv(table("Start,kWh,ct/kWh,gCO2/kWh", rows))


@wary()
def a_typical_home_beside_ones_own(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{0.4 + 0.1 * (t.hour > 16):.1f}" for t, v in made.pairs]
    return csv(table("Start,Usage,Typical home kWh", rows))

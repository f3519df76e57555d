"""Downloads as they look in yet other places: every one invented here, after the reading was built."""

from __future__ import annotations

import gzip
import io
import json
import zipfile
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from interval_layouts import Layout, Made, Written, comma, csv, iso, table
from interval_layouts_world import Asked

FRESH: dict[str, Layout] = {}
ZONES: dict[str, ZoneInfo] = {}
STEPS: dict[str, tuple[int, ...]] = {}
NO_AUTUMN: set[str] = set()
"""Layouts with no place for the hour that the clock repeats."""

DAYFIRST = "[bills]\ndate_format = 'DD/MM/YYYY'\n"


def registers(layouts: dict[str, Layout]) -> Callable[..., Callable[[Layout], Layout]]:
    """Return the decorator that adds a layout to some, by its name, with its zone and its lengths of interval."""

    def of(zone: str = "", steps: tuple[int, ...] = (), autumn: bool = True) -> Callable[[Layout], Layout]:
        def add(function: Layout) -> Layout:
            name = function.__name__.replace("_", " ")
            layouts[name] = function
            if zone:
                ZONES[name] = ZoneInfo(zone)
            if steps:
                STEPS[name] = steps
            if not autumn:
                NO_AUTUMN.add(name)
            return function

        return add

    return of


fresh = registers(FRESH)


def end_of(t: datetime, made: Made) -> datetime:
    return (t.astimezone(UTC) + timedelta(seconds=made.step)).astimezone(made.zone)


def ended(made: Made) -> list[tuple[datetime, float]]:
    return [(end_of(t, made), v) for t, v in made.pairs]


def day_24(t: datetime) -> tuple[date, str]:
    """Day and clock of an end, midnight as 24:00 of the day before."""
    if t.hour or t.minute:
        return t.date(), f"{t:%H:%M}"
    return t.date() - timedelta(days=1), "24:00"


def by_day(made: Made) -> dict[date, list[tuple[datetime, float]]]:
    out: dict[date, list[tuple[datetime, float]]] = {}
    for t, v in made.pairs:
        out.setdefault(t.date(), []).append((t, v))
    return out


def twelve(t: datetime) -> str:
    return f"{(t.hour + 11) % 12 + 1}:{t.minute:02d}"


# ---- other languages


@fresh("Europe/Lisbon", (15, 30, 60))
def portuguese_power_at_the_end(made: Made) -> Written:
    rows = []
    for t, v in ended(made):
        day, clock = day_24(t)
        rows.append(f"{day:%Y/%m/%d};{clock};{comma(v * 3600 / made.step, 4)}")
    head = "Leituras do contador;;\nCPE;PT0002000012345678XX;\n;;\nData;Hora;Consumo registado, Ativa (kW)"
    return csv(table(head, rows))


@fresh("Europe/Rome", (15, 60))
def italian_spans(made: Made) -> Written:
    rows = [f"{t:%d/%m/%Y};{t:%H:%M};{end_of(t, made):%H:%M};{comma(v)}" for t, v in made.pairs]
    return csv(table("Giorno;Ora inizio;Ora fine;Energia prelevata (kWh)", rows), DAYFIRST)


@fresh("Europe/Istanbul", (60,))
def turkish_hours(made: Made) -> Written:
    rows = [f"{t:%d.%m.%Y};{t:%H:%M};{comma(v)}" for t, v in made.pairs]
    return csv(table("Tarih;Saat;Tüketim (kWh)", rows), "[bills]\ndate_format = 'DD.MM.YYYY'\n")


@fresh("Europe/Athens", (15, 60))
def greek_words(made: Made) -> Written:
    rows = [f"{t:%d/%m/%Y %H:%M};{comma(v)}" for t, v in made.pairs]
    return csv(table("Ημερομηνία και ώρα;Κατανάλωση (kWh)", rows), DAYFIRST)


@fresh("Asia/Seoul", (60,))
def korean_hours_ending(made: Made) -> Written:
    rows = [f"{t:%Y-%m-%d},{t.hour + 1}시,{v:.3f}" for t, v in made.pairs]
    return csv(table("일자,시간,사용량(kWh)", rows))


@fresh("Asia/Shanghai", (15, 60))
def chinese_words(made: Made) -> Written:
    rows = [f"{t.year}年{t.month}月{t.day}日 {t:%H:%M},{v:.3f}" for t, v in made.pairs]
    return csv(table("时间,用电量(千瓦时)", rows))


@fresh("Europe/Prague", (15,))
def czech_power(made: Made) -> Written:
    rows = [f"{t:%d.%m.%Y %H:%M};{comma(v * 4, 4)};platná" for t, v in ended(made)]
    return csv(table("Datum;Profil +A [kW];Status", rows), "[bills]\ndate_format = 'DD.MM.YYYY'\n")


@fresh("Europe/Budapest", (15, 60))
def hungarian_dates(made: Made) -> Written:
    rows = [f"{t:%Y.%m.%d. %H:%M};{comma(v)}" for t, v in made.pairs]
    return csv(table("Időpont;Fogyasztás (kWh)", rows))


@fresh("Asia/Almaty", (30, 60))
def russian_words(made: Made) -> Written:
    rows = [f"{t:%d.%m.%Y};{t:%H:%M};{comma(v)}" for t, v in made.pairs]
    text = table("Дата;Время;Расход, кВт·ч", rows)
    return Written({"interval.csv": text.encode("cp1251")}, "[bills]\ndate_format = 'DD.MM.YYYY'\n")


@fresh("America/Mexico_City", (60,))
def spanish_a_m_with_points(made: Made) -> Written:
    rows = [f"{t:%d/%m/%Y},{twelve(t)} {'a. m.' if t.hour < 12 else 'p. m.'},{v:.3f}" for t, v in made.pairs]
    return csv(table("Fecha,Hora,Consumo kWh", rows), DAYFIRST)


@fresh("America/Toronto", (60,), autumn=False)
def french_with_status_words(made: Made) -> Written:
    rows = [f"820123;{t:%Y-%m-%d %H:%M};{comma(v, 3)};R" for t, v in made.pairs]
    return csv(table("Contrat;Date et heure;kWh;Code de consommation", rows))


# ---- clocks


@fresh()
def twelve_hours_without_a_mark(made: Made) -> Written:
    return csv(table("Date,Time,kWh", [f"{t:%Y-%m-%d},{twelve(t)},{v:.3f}" for t, v in made.pairs]))


@fresh()
def marks_glued_on(made: Made) -> Written:
    rows = [f"{t:%m/%d/%Y},{twelve(t)}{'a' if t.hour < 12 else 'p'},{v:.3f}" for t, v in made.pairs]
    return csv(table("READ DATE,READ TIME,KWH", rows))


@fresh()
def dates_and_24_apart(made: Made) -> Written:
    rows = []
    for t, v in ended(made):
        day, clock = day_24(t)
        rows.append(f"{day:%m/%d/%Y}\t{clock}\t{v:.3f}")
    return csv(table("Date\tTime\tKWH", rows))


@fresh()
def both_ends_in_utc(made: Made) -> Written:
    def z(t: datetime) -> str:
        return f"{t.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"

    rows = [f"{z(t)},{z(end_of(t, made))},{v * 1000:.0f}" for t, v in made.pairs]
    return csv(table("start_time,end_time,consumption_wh", rows))


@fresh()
def zone_in_brackets(made: Made) -> Written:
    rows = [f"{t.isoformat(timespec='minutes')}[{made.zone}],{v:.3f}" for t, v in made.pairs]
    return csv(table("timestamp,kwh", rows))


@fresh()
def dates_of_a_statistics_program(made: Made) -> Written:
    rows = [f"{t:%d%b%Y:%H:%M:%S}".upper() + f",{v:.3f}" for t, v in made.pairs]
    return csv(table("DATETIME,KWH", rows))


@fresh()
def digits_alone(made: Made) -> Written:
    return csv(table("DATE,TIME,KWH", [f"{t:%Y%m%d},{t:%H%M},{v:.3f}" for t, v in made.pairs]))


@fresh()
def ordinal_days(made: Made) -> Written:
    def nth(day: int) -> str:
        return f"{day}{'th' if 10 < day < 14 else {1: 'st', 2: 'nd', 3: 'rd'}.get(day % 10, 'th')}"

    return csv(table("When,kWh", [f"{nth(t.day)} {t:%B %Y %H:%M},{v:.3f}" for t, v in made.pairs]))


@fresh("Europe/Berlin", (15, 60))
def german_weekdays(made: Made) -> Written:
    week = ("Mo", "Di", "Mi", "Do", "Fr", "Sa", "So")
    rows = [f'"{week[t.weekday()]}, {t:%d.%m.%Y}";"{t:%H:%M}";"{comma(v)}"' for t, v in made.pairs]
    return csv(table('"Tag";"Uhrzeit";"Bezug in kWh"', rows), "[bills]\ndate_format = 'DD.MM.YYYY'\n")


@fresh()
def midnight_and_noon_in_words(made: Made) -> Written:
    def clock(t: datetime) -> str:
        if t.minute == 0 and t.hour in (0, 12):
            return "12:00 midnight" if t.hour == 0 else "12:00 noon"
        return f"{twelve(t)} {'a.m.' if t.hour < 12 else 'p.m.'}"

    return csv(table("Date,Time,Usage kWh", [f"{t:%m/%d/%Y},{clock(t)},{v:.3f}" for t, v in made.pairs]))


# ---- tables


@fresh()
def quoted_decimal_commas(made: Made) -> Written:
    return csv(table('"Time","kWh"', [f'"{iso(t)}","{comma(v)}"' for t, v in made.pairs]))


@fresh()
def tabs_and_decimal_commas(made: Made) -> Written:
    rows = [f"{t:%d.%m.%Y %H:%M}\t{comma(v)}\tgemessen" for t, v in made.pairs]
    return Written(
        {"interval.txt": table("Zeitpunkt\tWert [kWh]\tZustand", rows)}, "[bills]\ndate_format='DD.MM.YYYY'\n"
    )


@fresh()
def names_units_and_remarks_over_three_rows(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{15.0 + v:.1f}" for t, v in made.pairs]
    return csv(table("Time,Energy,Temperature\nlocal,kWh,degC\nstart of interval,active import,air", rows))


@fresh()
def months_with_titles_headers_and_totals(made: Made) -> Written:
    out, month, total, grand = [], None, 0.0, 0.0
    for t, v in made.pairs:
        if (t.year, t.month) != month:
            out += [f"Total,{total:.3f}", ""] if month else []
            out += [f"{t:%B %Y},", "Interval start,kWh"]
            month, total = (t.year, t.month), 0.0
        out.append(f"{iso(t)},{v:.3f}")
        total, grand = total + v, grand + v
    out += [
        f"Total,{total:.3f}",
        "",
        f"Grand total,{grand:.3f}",
        "",
        "Data may be estimated. (c) Your electric utility",
    ]
    return csv(table("", out))


@fresh()
def date_once_a_day(made: Made) -> Written:
    rows, day = [], None
    for t, v in made.pairs:
        rows.append(f"{t:%m/%d/%Y},{t:%I:%M %p},{v:.3f}" if t.date() != day else f",{t:%I:%M %p},{v:.3f}")
        day = t.date()
    return csv(table("Date,Time,kWh", rows))


@fresh()
def day_as_a_title(made: Made) -> Written:
    out = []
    for day, rows in by_day(made).items():
        out += [f'"{day:%A, %B} {day.day}, {day.year}"', "Time,kWh"]
        out += [f"{t:%I:%M %p},{v:.3f}" for t, v in rows]
        out += [f"Daily total,{sum(v for _, v in rows):.3f}", ""]
    return csv(table("", out))


@fresh()
def printed_pages(made: Made) -> Written:
    out = ["Interval Usage Report", "Meter Number: 48210077", ""]
    page = 1
    for i, (t, v) in enumerate(made.pairs):
        if i % 40 == 0:
            if i:
                out += [f"Page {page} of 9", ""]
                page += 1
            out.append("Date,Time,kWh")
        out.append(f"{t:%m/%d/%Y},{t:%H:%M},{v:.3f}")
    out += [f"Page {page} of 9", "End of report"]
    return csv(table("", out))


@fresh()
def a_table_of_a_database(made: Made) -> Written:
    rows = [f" {t:%Y-%m-%d %H:%M:%S%z} | {v:8.3f}" for t, v in made.pairs]
    return Written(
        {
            "interval.txt": table(
                "          ts              |   kwh\n--------------------------+----------",
                [*rows, f"({len(rows)} rows)"],
            )
        }
    )


@fresh()
def a_table_of_a_note(made: Made) -> Written:
    rows = [f"| {iso(t)} | {v:.3f} |" for t, v in made.pairs]
    return Written({"interval.txt": table("| Time | kWh |\n|------|-----|", rows)})


@fresh()
def powers_of_ten(made: Made) -> Written:
    return csv(table("time,kWh", [f"{iso(t)},{v:.6E}" for t, v in made.pairs]))


@fresh()
def watt_hours_with_blanks(made: Made) -> Written:
    rows = [f"{t:%Y-%m-%d %H:%M};{v * 1000:,.0f}".replace(",", " ") for t, v in made.pairs]
    return csv(table("Tid;Förbrukning (Wh)", rows))


@fresh()
def quality_letters_and_missing(made: Made) -> Written:
    letters = ["A", "A", "A", "E", "A"]
    rows = [f"{iso(t)},{v:.3f},{letters[i % 5]}" for i, (t, v) in enumerate(made.pairs)]
    return csv(table("Read Time,Quantity (kWh),Quality", rows))


@fresh()
def register_and_use(made: Made) -> Written:
    register = 41_876.0 + np.cumsum(made.kwh)
    rows = [f"{iso(t)},{r:.3f},{v:.3f}" for (t, v), r in zip(ended(made), register, strict=True)]
    return csv(table("Interval end,Meter reading (kWh),Usage (kWh)", rows))


@fresh()
def demand_alone(made: Made) -> Written:
    rows = [f"{iso(t)},{v * 3600 / made.step:.4f}" for t, v in made.pairs]
    return csv(table("Date/Time,Demand (kW)", rows))


@fresh()
def demand_and_register(made: Made) -> Written:
    register = np.concatenate([[9_120.0], 9_120.0 + np.cumsum(made.kwh)])
    stamps = [*made.begins, made.ends[-1]]
    demand = [0.0, *(made.kwh * 3600 / made.step)]
    rows = [f"{iso(t)},{r:.3f},{d:.4f}" for t, r, d in zip(stamps, register, demand, strict=True)]
    return csv(table("Time,Register kWh,Demand kW", rows))


@fresh()
def two_channels_as_rows(made: Made) -> Written:
    rows = [
        f"M-2207,{name},{iso(t)},{value:.3f},KWH"
        for (t, v), back in zip(made.pairs, made.back, strict=True)
        for name, value in (("KWH_DEL", v), ("KWH_REC", back))
    ]
    return csv(table("Meter,Channel,Interval Begin,Value,UOM", rows), back=True)


@fresh()
def import_and_export_words(made: Made) -> Written:
    rows = [
        f"{t.isoformat()},{way},{value:.3f}"
        for (t, v), back in zip(made.pairs, made.back, strict=True)
        for way, value in (("IMPORT", v), ("EXPORT", back))
    ]
    return csv(table("ts,direction,kwh", rows), back=True)


@fresh()
def minus_behind(made: Made) -> Written:
    net = made.kwh - made.back
    rows = [f"{iso(t)};{abs(n):.3f}{'-' if n < 0 else ''}" for (t, _), n in zip(made.pairs, net, strict=True)]
    return csv(table("time;net kWh", rows), "[house]\ngeneration = true\n", net=True)


@fresh()
def panels_and_all_flows(made: Made) -> Written:
    rows = []
    for (t, v), back in zip(made.pairs, made.back, strict=True):
        own = 0.3 * back
        rows.append(f"{iso(t)},{back + own:.4f},{v + own:.4f},{own:.4f},{back:.3f},{v:.3f}")
    head = (
        "Time,Production (kWh),Consumption (kWh),Self-consumption (kWh),Exported to grid (kWh),Imported from grid (kWh)"
    )
    return csv(table(head, rows), "[house]\ngeneration = true\n", back=True)


@fresh(steps=(15, 60), autumn=False)
def a_mark_behind_every_value(made: Made) -> Written:
    n = 86400 // made.step
    names = [f"{i * made.step // 3600:02d}:{i * made.step // 60 % 60:02d}" for i in range(n)]
    head = "Date," + ",".join(f"{name},Q" for name in names)
    rows = []
    for day, values in by_day(made).items():
        cells = {f"{t:%H:%M}": v for t, v in values}
        rows.append(f"{day:%Y-%m-%d}," + ",".join(f"{cells[x]:.3f},A" if x in cells else "," for x in names))
    return csv(table(head, rows))


@fresh(steps=(15, 60), autumn=False)
def power_across(made: Made) -> Written:
    n = 86400 // made.step
    names = [f"{i * made.step // 3600:02d}:{i * made.step // 60 % 60:02d}" for i in range(n)]
    rows = []
    for day, values in by_day(made).items():
        cells = {f"{t:%H:%M}": v * 3600 / made.step for t, v in values}
        rows.append(f"{day:%m/%d/%Y}," + ",".join(f"{cells[x]:.4f}" if x in cells else "" for x in names))
    return csv(table("Average kW per interval\nDay," + ",".join(names), rows))


@fresh()
def unavailable_states(made: Made) -> Written:
    register = np.concatenate([[120.0], 120.0 + np.cumsum(made.kwh)])
    stamps = [*made.begins, made.ends[-1]]
    rows = []
    for i, (t, r) in enumerate(zip(stamps, register, strict=True)):
        rows.append(f"sensor.meter_total,{r:.3f},{t.astimezone(UTC):%Y-%m-%dT%H:%M:%S.000Z}")
        if i % 30 == 7:
            rows.append(
                f"sensor.meter_total,unavailable,{t.astimezone(UTC) + timedelta(seconds=90):%Y-%m-%dT%H:%M:%S.000Z}"
            )
    return csv(table("entity,state,last_changed", rows))


@fresh()
def serials_with_decimal_commas(made: Made) -> Written:
    def serial(t: datetime) -> str:
        days = (t.replace(tzinfo=None) - datetime(1899, 12, 30)).total_seconds() / 86400
        return f"{days:.8f}".replace(".", ",")

    return csv(table("Datum;kWh", [f"{serial(t)};{comma(v)}" for t, v in made.pairs]))


@fresh()
def money_before_energy(made: Made) -> Written:
    rows = [f"$ {0.17 * v:.2f},{0.17:.4f},{iso(t)},{v:.3f}" for t, v in made.pairs]
    return csv(table("Cost,Rate,Start,Energy used", rows))


# ---- wrappings


@fresh()
def json_of_columns(made: Made) -> Written:
    data = {"meter": "1", "unit": "kWh", "time": [t.isoformat() for t in made.begins], "value": made.kwh.tolist()}
    return Written({"interval.json": json.dumps(data)})


@fresh()
def json_nested(made: Made) -> Written:
    data = {
        "account": {"id": 77, "tz": str(made.zone)},
        "data": {"electric": {"unit": "kWh", "readings": [
            {"start": t.isoformat(), "end": end_of(t, made).isoformat(), "value": v, "quality": "actual"}
            for t, v in made.pairs
        ]}},
    }  # fmt: skip
    return Written({"interval.json": json.dumps(data)})


@fresh()
def json_pairs(made: Made) -> Written:
    return Written({"interval.json": json.dumps({"kwh": [[int(t.timestamp()) * 1000, v] for t, v in made.pairs]})})


@fresh()
def json_lines(made: Made) -> Written:
    return Written({"interval.json": "\n".join(json.dumps({"ts": t.isoformat(), "kwh": v}) for t, v in made.pairs)})


@fresh(autumn=False)
def workbook_with_merged_titles(made: Made) -> Written:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Usage"
    sheet["A1"] = "Your electricity use"
    sheet.merge_cells("A1:D1")
    sheet["A2"] = "Service address: 12 Invented Lane"
    sheet.merge_cells("A2:D2")
    sheet.append([])
    sheet.append(["Date", "Start", "End", "Usage (kWh)"])
    for t, v in made.pairs:
        sheet.append([t.replace(tzinfo=None, hour=0, minute=0), t.time(), end_of(t, made).time(), v])
    sheet.append(["Total", None, None, float(made.kwh.sum())])
    out = io.BytesIO()
    book.save(out)
    return Written({"interval.xlsx": out.getvalue()})


@fresh(autumn=False)
def workbook_with_a_sheet_a_month(made: Made) -> Written:
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.active)
    months = {(t.year, t.month) for t in made.begins}
    for year, month in sorted(months):
        sheet = book.create_sheet(f"{year}-{month:02d}")
        sheet.append(["Timestamp", "kWh"])
        for t, v in made.pairs:
            if (t.year, t.month) == (year, month):
                sheet.append([t.replace(tzinfo=None), v])
    out = io.BytesIO()
    book.save(out)
    return Written({"interval.xlsx": out.getvalue()})


def zipped(files: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return out.getvalue()


@fresh()
def zip_of_months_with_a_note(made: Made) -> Written:
    half = len(made.kwh) // 2
    rows = [f"{t.isoformat()},{v:.3f}" for t, v in made.pairs]
    parts = {"download/part1.csv": rows[:half], "download/part2.csv": rows[half:]}
    files = {name: table("time,kwh", part).encode() for name, part in parts.items()}
    files |= {
        "download/README.txt": b"Thank you for downloading your data.\n",
        "__MACOSX/._part1.csv": b"\x00\x05\x16\x07",
    }
    return Written({"interval.zip": zipped(files)})


@fresh()
def zip_within_a_zip(made: Made) -> Written:
    inner = zipped({"usage.csv": table("time,kwh", [f"{t.isoformat()},{v:.3f}" for t, v in made.pairs]).encode()})
    return Written({"interval.zip": zipped({"usage.zip": inner})})


@fresh()
def gzipped_tabs(made: Made) -> Written:
    text = table("time\tkwh", [f"{t.isoformat()}\t{v:.3f}" for t, v in made.pairs])
    return Written({"interval.tsv.gz": gzip.compress(text.encode())})


@fresh()
def unicode_text_of_a_spreadsheet(made: Made) -> Written:
    text = table('"Date"\t"Use, kWh"', [f'"{t:%m/%d/%Y %I:%M %p}"\t"{v:.3f}"' for t, v in made.pairs])
    return Written({"interval.txt": text.replace("\n", "\r\n").encode("utf-16")})


def espi(points: list[tuple[str, int, int, int, list[tuple[int, int]]]], step: int) -> str:
    """Usage points of (kind, flow, unit, power of ten, [(start, value)])."""
    ns = 'xmlns="http://www.w3.org/2005/Atom"'
    es = 'xmlns:espi="http://naesb.org/espi"'
    out = [f'<?xml version="1.0" encoding="UTF-8"?><feed {ns} {es}><title>Usage</title>']

    def entry(self_: str, up: str, related: list[str], content: str) -> str:
        links = "".join(f'<link rel="related" href="{r}"/>' for r in related)
        own = f'<link rel="self" href="{self_}"/><link rel="up" href="{up}"/>'
        return f"<entry>{own}{links}<content>{content}</content></entry>"

    done: set[str] = set()
    for i, (kind, flow, uom, power, values) in enumerate(points):
        base = f"/r/UsagePoint/{kind}"
        if base not in done:
            done.add(base)
            category = 0 if kind.startswith("e") else 1
            out.append(
                entry(
                    base,
                    "/r/UsagePoint",
                    [f"{base}/MeterReading"],
                    f"<espi:UsagePoint><espi:ServiceCategory><espi:kind>{category}</espi:kind></espi:ServiceCategory></espi:UsagePoint>",
                )
            )
        reading, kinds = f"{base}/MeterReading/{i}", f"/r/ReadingType/{i}"
        out.append(entry(reading, f"{base}/MeterReading", [f"{reading}/IntervalBlock", kinds], "<espi:MeterReading/>"))
        out.append(
            entry(
                kinds,
                "/r/ReadingType",
                [],
                f"<espi:ReadingType><espi:accumulationBehaviour>4</espi:accumulationBehaviour><espi:flowDirection>{flow}</espi:flowDirection><espi:intervalLength>{step}</espi:intervalLength><espi:powerOfTenMultiplier>{power}</espi:powerOfTenMultiplier><espi:uom>{uom}</espi:uom></espi:ReadingType>",
            )
        )
        rows = "".join(
            f"<espi:IntervalReading><espi:timePeriod><espi:duration>{step}</espi:duration><espi:start>{at}</espi:start></espi:timePeriod><espi:value>{value}</espi:value></espi:IntervalReading>"
            for at, value in values
        )
        span = f"<espi:duration>{step * len(values)}</espi:duration><espi:start>{values[0][0]}</espi:start>"
        whole = f"<espi:interval>{span}</espi:interval>"
        out.append(
            entry(
                f"{reading}/IntervalBlock/1",
                f"{reading}/IntervalBlock",
                [],
                f"<espi:IntervalBlock>{whole}{rows}</espi:IntervalBlock>",
            )
        )
    return "".join(out) + "</feed>"


@fresh()
def espi_with_gas_beside(made: Made) -> Written:
    at = made.instants.tolist()
    wh = [(t, round(v * 1000)) for t, v in zip(at, made.kwh, strict=True)]
    gas = [(t, 7) for t in at]
    return Written({"interval.xml": espi([("e1", 1, 72, 0, wh), ("g1", 1, 169, -3, gas)], made.step)})


@fresh()
def espi_of_both_ways(made: Made) -> Written:
    at = made.instants.tolist()
    wh = [(t, round(v * 1e6)) for t, v in zip(at, made.kwh, strict=True)]
    back = [(t, round(v * 1e6)) for t, v in zip(at, made.back, strict=True)]
    return Written({"interval.xml": espi([("e1", 1, 72, -3, wh), ("e1", 19, 72, -3, back)], made.step)}, back=True)


def asked(made: Made) -> dict[str, Asked]:
    """Files that leave one thing open, and the answer that settles it."""
    circuits = [f"{iso(t)},{v:.3f},{0.3 * v:.4f},{0.2 * v:.4f}" for t, v in made.pairs]
    julian = [f"{t:%Y-%j},{t:%H:%M},{v:.3f}" for t, v in made.pairs]
    plain = [f"{iso(t)},{v:.3f}" for t, v in made.pairs]
    shuffled = [f"{t:%Y-%m-%d},{twelve(t)},{v:.3f}" for t, v in made.pairs][::-1]
    shuffled = shuffled[1::2] + shuffled[::2]
    return {
        "a house and two of its circuits": Asked(
            {"interval.csv": table("Time,Whole house (kWh),Heat pump (kWh),Car charger (kWh)", circuits)},
            "more than one column of values",
            "[interval]\nchannel = 'Whole house (kWh)'\n",
        ),
        "days of the year": Asked(
            {"interval.csv": table("Date,Time,kWh", julian)},
            "no column of times",
            other={"interval.csv": table("time,kwh", plain)},
        ),
        "twelve hours in no order": Asked(
            {"interval.csv": table("Date,Time,kWh", shuffled)},
            "nothing tells morning from afternoon",
            other={"interval.csv": table("time,kwh", plain)},
        ),
    }

# ruff: noqa: E501
"""Forty downloads as utilities and meter portals of many countries hand them out, invented; each with its truth.

Every layout writes the same kind of series in its own way. A reader gives back the same energies at the same instants,
or asks one question that a person can answer; a wrong total without a word is the one thing that must not happen.
"""

from __future__ import annotations

import gzip
import io
import json
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np


@dataclass(frozen=True)
class Truth:
    """Energies [Wh] by the instant at which each begins [s]."""

    zone: str
    starts: np.ndarray
    wh: np.ndarray
    step: int

    def local(self) -> list[datetime]:
        """Beginnings on the clock on the wall."""
        return [datetime.fromtimestamp(int(s), UTC).astimezone(ZoneInfo(self.zone)) for s in self.starts]

    def ends(self) -> list[datetime]:
        """Ends on the clock on the wall."""
        return Truth(self.zone, self.starts + self.step, self.wh, self.step).local()

    def begun(self) -> Iterator[tuple[datetime, float]]:
        """Beginnings, and the energies from then on."""
        return zip(self.local(), self.wh, strict=True)

    def spans(self) -> Iterator[tuple[datetime, datetime, float]]:
        """Beginnings, ends, and the energies between."""
        return zip(self.local(), self.ends(), self.wh, strict=True)


Layout = Callable[[Truth], tuple[str, bytes]]


def truth(zone: str, minutes: int, first: str = "2025-03-01", days: int = 40, seed: int = 1) -> Truth:
    """A made-up series of whole watt-hours over the spring change of the clock."""
    rng = np.random.default_rng(seed)
    begin = int(datetime.fromisoformat(first).replace(tzinfo=ZoneInfo(zone)).timestamp())
    last = datetime.fromisoformat(first) + timedelta(days=days)
    end = int(last.replace(tzinfo=ZoneInfo(zone)).timestamp())
    starts = np.arange(begin, end, minutes * 60)
    day = 1.0 + np.sin(2 * np.pi * (starts % 86400) / 86400.0)
    wh = np.round((80.0 + 300.0 * day + rng.gamma(1.2, 400.0, len(starts))) * minutes / 60.0)
    return Truth(zone, starts, wh, minutes * 60)


def text(name: str, *lines: str, end: str = "\n", code: str = "utf-8") -> tuple[str, bytes]:
    """A file of lines."""
    return name, (end.join(lines) + end).encode(code)


def kwh(wh: float, places: int = 3, point: str = ".") -> str:
    """Energy in kWh."""
    return f"{wh / 1000.0:.{places}f}".replace(".", point)


def texas(t: Truth) -> tuple[str, bytes]:
    """A smart-meter portal of the South: identifier, date, revision, start, end, kWh, and what kind of reading."""
    return text(
        "IntervalData.csv",
        "SITE_ID,USAGE_DATE,REVISION_DATE,USAGE_START_TIME,USAGE_END_TIME,USAGE_KWH,ESTIMATED_ACTUAL,CONSUMPTION_SURPLUSGENERATION",
        *(
            f"'10089{0:012d},{a:%m/%d/%Y},{a + timedelta(days=2):%m/%d/%Y} 06:12:09,{a:%H:%M},{b:%H:%M},{kwh(w)},A,Consumption"
            for a, b, w in t.spans()
        ),
    )


def california(t: Truth) -> tuple[str, bytes]:
    """A name and address above, quotes, a cost beside, a note of the meter's clock."""
    return text(
        "elec_interval_data.csv",
        "Name,J. PERSON",
        '"Address","12 SAMPLE ST, SOMEWHERE CA 90000"',
        "Account Number,0000000000",
        "Service,Service 1",
        "",
        "TYPE,DATE,START TIME,END TIME,USAGE (kWh),COST,NOTES",
        *(
            f"Electric usage,{a:%Y-%m-%d},{a:%H:%M},{b - timedelta(minutes=1):%H:%M},{kwh(w, 3)},${w / 3000:.2f},"
            for a, b, w in t.spans()
        ),
    )


def ontario(t: Truth) -> tuple[str, bytes]:
    """ISO with the distance from UTC, Wh, and a price period that is a word."""
    return text(
        "hourly_usage.csv",
        "Reading Start,Reading End,Wh Delivered,TOU",
        *(
            f"{a.isoformat()},{b.isoformat()},{w:.0f},{'ON_PEAK' if 11 <= a.hour < 17 else 'OFF_PEAK'}"
            for a, b, w in t.spans()
        ),
    )


def netherlands(t: Truth) -> tuple[str, bytes]:
    """Two rising registers, low and normal tariff, decimal commas."""
    low = np.array([a.hour < 7 or a.hour >= 23 or a.weekday() >= 5 for a in t.local()])
    at = np.concatenate([[0.0], np.cumsum(t.wh * low)]), np.concatenate([[0.0], np.cumsum(t.wh * ~low)])
    stamps = [*t.local(), t.ends()[-1]]
    return text(
        "standen.csv",
        "Tijdstip;Stand laag tarief (kWh);Stand normaal tarief (kWh)",
        *(
            f"{s:%d-%m-%Y %H:%M};{kwh(4_120_000 + a, 3, ',')};{kwh(6_303_000 + b, 3, ',')}"
            for s, a, b in zip(stamps, *at, strict=True)
        ),
    )


def germany(t: Truth) -> tuple[str, bytes]:
    """Semicolons, decimal commas, from and to, a status word, Latin-1."""
    return text(
        "Lastgang.csv",
        "Zählpunkt;DE00000000000000000000000000000001",
        "Von;Bis;Verbrauch in kWh;Status",
        *(f"{a:%d.%m.%Y %H:%M};{b:%d.%m.%Y %H:%M};{kwh(w, 3, ',')};Wahrer Wert" for a, b, w in t.spans()),
        code="latin-1",
    )


def austria(t: Truth) -> tuple[str, bytes]:
    """A date, a clock, and the mean power in kW."""
    return text(
        "Viertelstundenwerte.csv",
        "Datum;Uhrzeit von;Uhrzeit bis;Wirkleistung [kW]",
        *(
            f"{a:%d.%m.%Y};{a:%H:%M};{b:%H:%M};{w / 1000 * 3600 / t.step:.3f}".replace(".", ",").replace(",", ".", 2)
            for a, b, w in t.spans()
        ),
    )


def france(t: Truth) -> tuple[str, bytes]:
    """Mean power in W at the end of each half hour, ISO with offsets, semicolons, some header lines."""
    return text(
        "courbe_de_charge.csv",
        "Identifiant PRM;Type de donnees;Date de debut;Date de fin;Grandeur physique;Unite;Pas en minutes",
        f"00000000000001;Courbe de charge;{t.local()[0]:%d/%m/%Y};{t.ends()[-1]:%d/%m/%Y};Energie active;W;{t.step // 60}",
        "Horodate;Valeur",
        *(f"{b.isoformat()};{w * 3600 / t.step:.6g}" for b, w in zip(t.ends(), t.wh, strict=True)),
    )


def spain(t: Truth) -> tuple[str, bytes]:
    """Hours 1 to 24 (23 or 25 at a change), comma decimals, how it was got."""
    hours = [
        (int(s) - int(datetime(a.year, a.month, a.day, tzinfo=a.tzinfo).timestamp())) // 3600 + 1
        for s, a in zip(t.starts, t.local(), strict=True)
    ]
    return text(
        "consumo.csv",
        "CUPS;Fecha;Hora;Consumo_kWh;Metodo_obtencion",
        *(
            f"ES0000000000000000AA;{a:%d/%m/%Y};{h};{kwh(w, 3, ',')};R"
            for a, h, w in zip(t.local(), hours, t.wh, strict=True)
        ),
    )


def italy(t: Truth) -> tuple[str, bytes]:
    """A row a day, 96 columns by their spans, day-first dates, comma decimals."""
    return _wide(
        t,
        "Giorno",
        ";",
        "%d/%m/%Y",
        lambda m: f"{m // 60:02d}:{m % 60:02d}-{(m + t.step // 60) // 60 % 24:02d}:{(m + t.step // 60) % 60:02d}",
        ",",
    )


def _wide(
    t: Truth, head: str, sign: str, form: str, name: Callable[[int], str], point: str = ".", more: str = ""
) -> tuple[str, bytes]:
    minutes = range(0, 1440, t.step // 60)
    days: dict[str, dict[int, float]] = {}
    for a, w in t.begun():
        days.setdefault(a.strftime(form), {})[a.hour * 60 + a.minute] = w
    lines = [sign.join([head, *(name(m) for m in minutes)])]
    for day, cells in days.items():
        lines.append(sign.join([day, *(kwh(cells[m], 3, point) if m in cells else "" for m in minutes)]))
    return text("daily" + more + ".csv", *lines)


def new_zealand(t: Truth) -> tuple[str, bytes]:
    """A row a day, 48 columns HH1 to HH48, with a register code and a flow."""
    minutes = range(0, 1440, 30)
    days: dict[str, dict[int, float]] = {}
    for a, w in t.begun():
        days.setdefault(f"{a:%d/%m/%Y}", {})[a.hour * 60 + a.minute] = w
    return text(
        "halfhours.csv",
        "ICP,Meter,Register,Flow,Date," + ",".join(f"HH{n}" for n in range(1, 49)),
        *(
            f"0000000000XX000,99000001,IN24,X,{day}," + ",".join(kwh(c[m]) if m in c else "" for m in minutes)
            for day, c in days.items()
        ),
    )


def uk_halfhours(t: Truth) -> tuple[str, bytes]:
    """The blanks after the commas that one portal writes, ISO with offsets."""
    return text(
        "consumption.csv",
        "Consumption (kwh), Estimated Cost Inc. Tax (p), Start, End",
        *(f"{kwh(w)}, {w / 40:.2f}, {a.isoformat()}, {b.isoformat()}" for a, b, w in t.spans()),
    )


def uk_utc(t: Truth) -> tuple[str, bytes]:
    """UTC times, named so."""
    return text(
        "consumption_utc.csv",
        "timestamp (UTC),energyConsumption (kWh)",
        *(
            f"{datetime.fromtimestamp(int(s), UTC):%Y-%m-%d %H:%M},{kwh(w)}"
            for s, w in zip(t.starts, t.wh, strict=True)
        ),
    )


def sweden(t: Truth) -> tuple[str, bytes]:
    """Tabs, blanks between thousands, decimal commas, Wh."""
    return text(
        "forbrukning.txt",
        "Datum\tTid\tFörbrukning (Wh)",
        *(f"{a:%Y-%m-%d}\t{a:%H:%M}\t{f'{w:,.0f}'.replace(',', ' ')}" for a, w in t.begun()),
    )


def norway(t: Truth) -> tuple[str, bytes]:
    """From and to in day-first dates, quality as a word."""
    return text(
        "meteringvalues.csv",
        "Fra;Til;KWH 60 Forbruk;Kvalitet",
        *(f"{a:%d.%m.%Y %H:%M};{b:%d.%m.%Y %H:%M};{kwh(w, 3, ',')};Målt" for a, b, w in t.spans()),
    )


def denmark(t: Truth) -> tuple[str, bytes]:
    """Quotes round everything, decimal comma with commas between columns."""
    return text(
        "MeterData.csv",
        '"MålepunktsID","Fra_dato","Til_dato","Mængde","Måleenhed","Kvalitet","Type"',
        *(
            f'"571313000000000001","{a:%d-%m-%Y %H:%M:%S}","{b:%d-%m-%Y %H:%M:%S}","{kwh(w, 3, ",")}","KWH","Målt","Tidsserie"'
            for a, b, w in t.spans()
        ),
    )


def finland(t: Truth) -> tuple[str, bytes]:
    """ISO in UTC with Z, an EAN before it, decimal commas, semicolons, BOM."""
    return text(
        "consumption_fi.csv",
        "\ufeffMeteringPointGSRN;Product Type;Resolution;Unit Type;Reading Type;Start Time;Quantity;Quality",
        *(
            f"643000000000000001;8716867000030;PT{t.step // 60}MIN;kWh;BN01;{datetime.fromtimestamp(int(s), UTC):%Y-%m-%dT%H:%M:%SZ};{kwh(w, 6, ',')};OK"
            for s, w in zip(t.starts, t.wh, strict=True)
        ),
    )


def switzerland(t: Truth) -> tuple[str, bytes]:
    """Apostrophes between thousands of Wh."""
    return text(
        "lastprofil.csv",
        "Zeitstempel;Bezug (Wh)",
        *(f"{a:%d.%m.%Y %H:%M:%S};{f'{w:,.0f}'.replace(',', chr(39))}" for a, w in t.begun()),
    )


def poland(t: Truth) -> tuple[str, bytes]:
    """Hours 1 to 24 of the day in their own column, energy drawn and given back in one file as rows."""
    hours = [
        (int(s) - int(datetime(a.year, a.month, a.day, tzinfo=a.tzinfo).timestamp())) // 3600 + 1
        for s, a in zip(t.starts, t.local(), strict=True)
    ]
    return text(
        "dane.csv",
        "Data;Godzina;Energia pobrana [kWh]",
        *(f"{a:%Y-%m-%d};{h};{kwh(w, 3, ',')}" for a, h, w in zip(t.local(), hours, t.wh, strict=True)),
    )


def brazil(t: Truth) -> tuple[str, bytes]:
    """Day-first, with the words of a Latin country."""
    return text(
        "medicao.csv",
        "Data;Hora;Consumo ativo (kWh)",
        *(f"{a:%d/%m/%Y};{a:%H:%M:%S};{kwh(w, 3, ',')}" for a, w in t.begun()),
    )


def japan(t: Truth) -> tuple[str, bytes]:
    """Slashes, spans of half an hour as columns, a row a day."""
    return _wide(
        t,
        "年月日",
        ",",
        "%Y/%m/%d",
        lambda m: f"{m // 60}:{m % 60:02d}～{(m + t.step // 60) // 60}:{(m + t.step // 60) % 60:02d}",
    )


def india(t: Truth) -> tuple[str, bytes]:
    """Day, month in letters, year; a sum at the bottom."""
    return text(
        "load_survey.csv",
        "RTC,Block kWh Import",
        *(f"{a:%d-%b-%Y %H:%M},{kwh(w)}" for a, w in t.begun()),
        f"Total,{kwh(t.wh.sum())}",
    )


def epoch_ms(t: Truth) -> tuple[str, bytes]:
    """Thousandths of a second since 1970."""
    return text("readings.csv", "ts,wh", *(f"{int(s) * 1000},{w:.0f}" for s, w in zip(t.starts, t.wh, strict=True)))


def json_lines(t: Truth) -> tuple[str, bytes]:
    """A list of objects as an application gives it."""
    rows = [
        {"start": a.isoformat(), "end": b.isoformat(), "consumption": round(w / 1000, 3), "unit": "kWh"}
        for a, b, w in t.spans()
    ]
    return "usage.json", json.dumps({"count": len(rows), "results": rows}).encode()


def register(t: Truth) -> tuple[str, bytes]:
    """A home hub's history of its meter's display."""
    at = 18_220_000 + np.concatenate([[0.0], np.cumsum(t.wh)])
    stamps = np.append(t.starts, t.starts[-1] + t.step)
    return text(
        "history.csv",
        "entity_id,state,last_changed",
        *(
            f"sensor.meter_total_energy_kwh,{kwh(v)},{datetime.fromtimestamp(int(s), UTC):%Y-%m-%dT%H:%M:%S.000Z}"
            for s, v in zip(stamps, at, strict=True)
        ),
    )


def newest_first(t: Truth) -> tuple[str, bytes]:
    """The newest reading on top, twelve-hour clock."""
    rows = [f"{a:%m/%d/%Y %I:%M %p},{kwh(w)}" for a, w in t.begun()]
    return text("my_usage.csv", "Start Date/Time,kWh", *rows[::-1])


def hour_ending(t: Truth) -> tuple[str, bytes]:
    """Hour endings without colons, 100 to 2400."""
    return text(
        "he.csv",
        "Date,Hour Ending,Usage kWh",
        *(f"{a:%m/%d/%Y},{a.hour + 1}00,{kwh(w)}" for a, w in t.begun()),
    )


def standard_time(t: Truth) -> tuple[str, bytes]:
    """Standard time all year, said in the name of the column."""
    away = min(a.utcoffset() for a in t.local())  # type: ignore[type-var]
    return text(
        "est.csv",
        "Time (EST),kWh",
        *(
            f"{datetime.fromtimestamp(int(s), UTC) + away:%Y-%m-%d %H:%M},{kwh(w)}"
            for s, w in zip(t.starts, t.wh, strict=True)
        ),
    )


def two_flows(t: Truth) -> tuple[str, bytes]:
    """Drawn and sent as rows of one file."""
    lines = []
    for a, w in t.begun():
        lines += [f"{a:%Y-%m-%d %H:%M},Import,{kwh(w)}", f"{a:%Y-%m-%d %H:%M},Export,{0 if a.hour != 12 else 0.1}"]
    return text("both.csv", "Interval start,Direction,kWh", *lines)


def phases(t: Truth) -> tuple[str, bytes]:
    """Three phases side by side, whole Wh."""
    third = np.floor(t.wh / 3)
    return text(
        "phases.csv",
        "time,L1 Wh,L2 Wh,L3 Wh",
        *(
            f"{a:%Y-%m-%d %H:%M},{x:.0f},{x:.0f},{w - 2 * x:.0f}"
            for a, x, w in zip(t.local(), third, t.wh, strict=True)
        ),
    )


def zipped(t: Truth) -> tuple[str, bytes]:
    """A file a month in an archive, with a note."""
    stream = io.BytesIO()
    months: dict[str, list[str]] = {}
    for a, w in t.begun():
        months.setdefault(f"{a:%Y-%m}", []).append(f"{a:%Y-%m-%d %H:%M},{kwh(w)}")
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("README.txt", "Your usage, one file a month.\n")
        for month, lines in months.items():
            archive.writestr(f"usage/{month}.csv", "Interval Start,kWh\n" + "\n".join(lines) + "\n")
    return "usage.zip", stream.getvalue()


def gzipped(t: Truth) -> tuple[str, bytes]:
    """Compressed ISO."""
    _, data = text("x.csv", "time,kwh", *(f"{a.isoformat()},{kwh(w)}" for a, w in t.begun()))
    return "x.csv.gz", gzip.compress(data)


def utf16(t: Truth) -> tuple[str, bytes]:
    """Tabs and UTF-16, as a spreadsheet saves Unicode text."""
    return text(
        "export.txt",
        "Date\tStart\tkWh",
        *(f"{a:%m/%d/%Y}\t{a:%I:%M %p}\t{kwh(w)}" for a, w in t.begun()),
        end="\r\n",
        code="utf-16",
    )


def workbook(t: Truth) -> tuple[str, bytes]:
    """A workbook with a cover sheet and real dates."""
    import openpyxl

    book = openpyxl.Workbook()
    cover = book.active
    assert cover is not None
    cover.title = "Summary"
    cover.append(["Usage report for", "Service 1"])
    cover.append(["Printed", datetime(2025, 5, 1)])
    sheet = book.create_sheet("Intervals")
    sheet.append(["Start", "End", "Usage (kWh)"])
    for a, b, w in t.spans():
        sheet.append([a.replace(tzinfo=None), b.replace(tzinfo=None), round(w / 1000, 3)])
    stream = io.BytesIO()
    book.save(stream)
    return "report.xlsx", stream.getvalue()


def split_date(t: Truth) -> tuple[str, bytes]:
    """Year, month, day and hour in columns of their own."""
    return text(
        "split.csv",
        "Year,Month,Day,Hour,Minute,kWh",
        *(f"{a.year},{a.month},{a.day},{a.hour},{a.minute},{kwh(w)}" for a, w in t.begun()),
    )


def compact(t: Truth) -> tuple[str, bytes]:
    """Fourteen digits for the end of the interval."""
    return text(
        "compact.csv",
        "interval_end;value_wh",
        *(f"{b:%Y%m%d%H%M%S};{w:.0f}" for b, w in zip(t.ends(), t.wh, strict=True)),
    )


def last_minute(t: Truth) -> tuple[str, bytes]:
    """Ends written as the last second of the interval."""
    return text(
        "lastsecond.csv",
        "From,To,kWh",
        *(f"{a:%Y-%m-%d %H:%M:%S},{b - timedelta(seconds=1):%Y-%m-%d %H:%M:%S},{kwh(w)}" for a, b, w in t.spans()),
    )


def monthly_headers(t: Truth) -> tuple[str, bytes]:
    """A sub-header and a sum at each day."""
    lines, day, total = ["Usage history"], None, 0.0
    for a, w in t.begun():
        if a.date() != day:
            lines += [f"Total,{kwh(total)}"] * (day is not None) + ["Time,kWh"]
            day, total = a.date(), 0.0
        total += w
        lines.append(f"{a:%Y-%m-%d %H:%M},{kwh(w)}")
    return text("grouped.csv", *lines, f"Total,{kwh(total)}")


def named_month(t: Truth) -> tuple[str, bytes]:
    """Weekday and month in words."""
    return text(
        "long.csv",
        "When,Electricity (kWh)",
        *(f'"{a:%A, %B} {a.day}, {a.year} {a:%I:%M %p}",{kwh(w)}' for a, w in t.begun()),
    )


def mwh(t: Truth) -> tuple[str, bytes]:
    """A large site's MWh, six places."""
    return text(
        "mwh.csv",
        "Timestamp,MWh",
        *(f"{a:%Y-%m-%dT%H:%M:%S},{w / 1e6:.6f}" for a, w in t.begun()),
    )


def web_page(t: Truth) -> tuple[str, bytes]:
    """A web page saved under the name of a spreadsheet."""
    rows = "".join(f"<tr><td>{a:%m/%d/%Y}</td><td>{a:%H:%M}</td><td>{kwh(w)}</td></tr>" for a, w in t.begun())
    return (
        "usage.xls",
        f"<html><body><table><tr><th>Date</th><th>Time</th><th>kWh</th></tr>{rows}</table></body></html>".encode(),
    )


def reactive_beside(t: Truth) -> tuple[str, bytes]:
    """Active and reactive energy, a status and a temperature."""
    return text(
        "profile.csv",
        "Timestamp,Active energy import (kWh),Reactive energy import (kvarh),Status,Outside temperature (C)",
        *(f"{a:%Y-%m-%d %H:%M},{kwh(w)},{kwh(w / 4)},0,{10 + a.hour / 4:.1f}" for a, w in t.begun()),
    )


LAYOUTS: dict[str, tuple[Layout, str, int]] = {
    "texas": (texas, "America/Chicago", 15),
    "california": (california, "America/Los_Angeles", 15),
    "ontario": (ontario, "America/Toronto", 60),
    "netherlands": (netherlands, "Europe/Amsterdam", 15),
    "germany": (germany, "Europe/Berlin", 15),
    "austria": (austria, "Europe/Vienna", 15),
    "france": (france, "Europe/Paris", 30),
    "spain": (spain, "Europe/Madrid", 60),
    "italy": (italy, "Europe/Rome", 15),
    "new zealand": (new_zealand, "Pacific/Auckland", 30),
    "uk half hours": (uk_halfhours, "Europe/London", 30),
    "uk utc": (uk_utc, "Europe/London", 30),
    "sweden": (sweden, "Europe/Stockholm", 60),
    "norway": (norway, "Europe/Oslo", 60),
    "denmark": (denmark, "Europe/Copenhagen", 60),
    "finland": (finland, "Europe/Helsinki", 15),
    "switzerland": (switzerland, "Europe/Zurich", 15),
    "poland": (poland, "Europe/Warsaw", 60),
    "brazil": (brazil, "America/Sao_Paulo", 15),
    "japan": (japan, "Asia/Tokyo", 30),
    "india": (india, "Asia/Kolkata", 30),
    "thousandths": (epoch_ms, "America/Denver", 5),
    "json": (json_lines, "Europe/London", 30),
    "register": (register, "America/New_York", 60),
    "newest first": (newest_first, "America/New_York", 15),
    "hour ending": (hour_ending, "America/Phoenix", 60),
    "standard time": (standard_time, "America/New_York", 60),
    "two flows": (two_flows, "America/Los_Angeles", 60),
    "phases": (phases, "Europe/Berlin", 15),
    "zipped": (zipped, "America/Chicago", 30),
    "gzipped": (gzipped, "America/Chicago", 1),
    "utf-16": (utf16, "America/New_York", 15),
    "workbook": (workbook, "America/Chicago", 15),
    "split date": (split_date, "America/Chicago", 15),
    "compact": (compact, "Europe/Madrid", 15),
    "last second": (last_minute, "America/Chicago", 30),
    "sub-headers": (monthly_headers, "America/Chicago", 30),
    "named month": (named_month, "America/Chicago", 30),
    "megawatt-hours": (mwh, "America/Chicago", 15),
    "web page": (web_page, "America/Chicago", 60),
    "reactive beside": (reactive_beside, "America/Chicago", 15),
}
"""Forty-one layouts, each with the zone and the step of its series [min]."""

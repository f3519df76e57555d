"""One series of readings in every layout that utilities and meters export: name -> files and settings."""

from __future__ import annotations

import gzip
import io
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

ZONE = ZoneInfo("America/Chicago")
HOUSE = "[house]\ntimezone = 'America/Chicago'\n"


@dataclass
class Made:
    """Readings and how they are to be written."""

    start: datetime
    step: int
    kwh: np.ndarray
    back: np.ndarray
    rng: np.random.Generator
    zone: ZoneInfo = ZONE

    @property
    def instants(self) -> np.ndarray:
        return int(self.start.timestamp()) + self.step * np.arange(len(self.kwh))

    @property
    def begins(self) -> list[datetime]:
        return [datetime.fromtimestamp(int(at), UTC).astimezone(self.zone) for at in self.instants]

    @property
    def ends(self) -> list[datetime]:
        return [datetime.fromtimestamp(int(at) + self.step, UTC).astimezone(self.zone) for at in self.instants]

    @property
    def pairs(self) -> list[tuple[datetime, float]]:
        return list(zip(self.begins, self.kwh.tolist(), strict=True))


@dataclass
class Written:
    """Files beside bills.csv, more of house.toml, and what is in them beside the energy drawn."""

    files: dict[str, str | bytes]
    toml: str = ""
    back: bool = False
    net: bool = False
    house: str = ""


def make(seed: int, *, step: int = 3600, days: int = 4, first: datetime | None = None, zone: ZoneInfo = ZONE) -> Made:
    """Readings of whole local days; the values have three decimals, so that a unit of Wh is exact."""
    rng = np.random.default_rng(seed)
    begin = (first or datetime(2025, 3, 7)).replace(tzinfo=zone)
    end = (begin.replace(tzinfo=None) + timedelta(days=days)).replace(tzinfo=zone)
    n = int((end.timestamp() - begin.timestamp()) // step)
    kwh = np.round(rng.gamma(2.0, 0.3, n) * step / 3600 + 0.002, 3)
    back = np.round(np.maximum(rng.normal(0.0, 0.2, n), 0.0) * step / 3600, 3)
    return Made(begin, step, kwh, back, rng, zone)


def table(header: str, rows: list[str]) -> str:
    return "\n".join(([header] if header else []) + rows) + "\n"


def rows_of(made: Made, stamp: Callable[[datetime], str], *, end: bool = False, value: str = "{:.3f}") -> list[str]:
    at = made.ends if end else made.begins
    return [f"{stamp(t)},{value.format(v)}" for t, v in zip(at, made.kwh, strict=True)]


def comma(value: float, digits: int = 3) -> str:
    return f"{value:.{digits}f}".replace(".", ",")


def iso(t: datetime) -> str:
    return f"{t:%Y-%m-%d %H:%M}"


def us(t: datetime) -> str:
    return f"{t.month}/{t.day}/{t.year} {(t.hour + 11) % 12 + 1}:{t.minute:02d} {'AM' if t.hour < 12 else 'PM'}"


def csv(text: str, toml: str = "", **more: object) -> Written:
    return Written({"interval.csv": text}, toml, **more)  # type: ignore[arg-type]


Layout = Callable[[Made], Written]
LAYOUTS: dict[str, Layout] = {}


def layout(function: Layout) -> Layout:
    LAYOUTS[function.__name__.replace("_", " ")] = function
    return function


def simple(name: str, header: str, stamp: Callable[[datetime], str], *, end: bool = False, toml: str = "") -> None:
    LAYOUTS[name] = lambda made: csv(table(header, rows_of(made, stamp, end=end)), toml)


simple("iso local start", "time,kwh", iso)
simple("iso with seconds", "timestamp,usage_kwh", lambda t: f"{t:%Y-%m-%d %H:%M:%S}")
simple("iso with offset", "Timestamp,kWh", lambda t: t.isoformat())
simple("iso with a short offset", "Timestamp,kWh", lambda t: f"{t:%Y-%m-%dT%H:%M%z}")
simple("iso with fractions and Z", "time,value (kWh)", lambda t: f"{t.astimezone(UTC):%Y-%m-%dT%H:%M:%S.000Z}")
simple("utc by the column's name", "Time (UTC),kWh", lambda t: iso(t.astimezone(UTC)))
simple("utc by the settings", "time,kWh", lambda t: iso(t.astimezone(UTC)), toml="[interval]\ntimezone = 'UTC'\n")
simple("clock letters", "time,kWh", lambda t: f"{t:%Y-%m-%d %H:%M %Z}")
simple("us with am and pm", "Date Time,Usage (kWh)", us)
simple("us in 24 hours", "Date/Time,kWh", lambda t: f"{t:%m/%d/%Y %H:%M}")
simple("us with two digits of the year", "Date,kWh", lambda t: f"{t:%m/%d/%y %H:%M}")
simple(
    "day first with slashes", "Date,kWh", lambda t: f"{t:%d/%m/%Y %H:%M}", toml="[bills]\ndate_format = 'DD/MM/YYYY'\n"
)
simple(
    "day first with points", "Datum,kWh", lambda t: f"{t:%d.%m.%Y %H:%M}", toml="[bills]\ndate_format='DD.MM.YYYY'\n"
)
simple("named months", "time,kWh", lambda t: f"{t:%d-%b-%Y %H:%M}")
simple("named months first", "time,kWh", lambda t: f'"{t:%B} {t.day}, {t:%Y %I:%M %p}"')
simple("weekday before it", "time,kWh", lambda t: f'"{t:%A, %B %d, %Y %H:%M}"')
simple("year month day with slashes", "time,kWh", lambda t: f"{t:%Y/%m/%d %H:%M}")
simple("compact", "time,kWh", lambda t: f"{t:%Y%m%d%H%M}")
simple("compact with a space", "time,kWh", lambda t: f"{t:%Y%m%d %H%M}")
simple("epoch seconds", "epoch,kWh", lambda t: str(int(t.timestamp())))
simple("epoch milliseconds", "timestamp,kWh", lambda t: str(int(t.timestamp() * 1000)))
simple("ends by the column's name", "Interval End,kWh", iso, end=True)
simple("ends by the settings", "time,kWh", iso, end=True, toml="[interval]\nstamps = 'end'\n")
simple("ends through whole days", "time,kWh", iso, end=True)
simple("no header", "", iso)


@layout
def midnight_as_24(made: Made) -> Written:
    def stamp(t: datetime) -> str:
        return iso(t) if t.hour or t.minute else f"{t - timedelta(days=1):%Y-%m-%d} 24:00"

    return csv(table("time,kwh", rows_of(made, stamp, end=True)))


@layout
def date_and_time_apart(made: Made) -> Written:
    return csv(table("Date,Time,kWh", rows_of(made, lambda t: f"{t:%Y-%m-%d},{t:%H:%M}")))


@layout
def date_and_us_time_apart(made: Made) -> Written:
    return csv(table("USAGE DATE,USAGE TIME,USAGE", rows_of(made, lambda t: us(t).replace(" ", ",", 1))))


@layout
def date_and_both_times(made: Made) -> Written:
    rows = [
        f"Electric usage,{b:%m/%d/%Y},{b:%H:%M},{e - timedelta(minutes=1):%H:%M},{v:.3f},kWh,$0.12,"
        for b, e, v in zip(made.begins, made.ends, made.kwh, strict=True)
    ]
    return csv(table("TYPE,DATE,START TIME,END TIME,USAGE,UNITS,COST,NOTES", rows))


@layout
def both_ends(made: Made) -> Written:
    rows = [f"{iso(b)},{iso(e)},{v:.3f}" for b, e, v in zip(made.begins, made.ends, made.kwh, strict=True)]
    return csv(table("Start,End,kWh", rows))


@layout
def a_span_in_one_cell(made: Made) -> Written:
    rows = [f"{iso(b)} - {iso(e)},{v:.3f}" for b, e, v in zip(made.begins, made.ends, made.kwh, strict=True)]
    return csv(table("Period,kWh", rows))


def _by_hour(made: Made) -> list[tuple[datetime, int, float]]:
    out, day, hour = [], None, 0
    for t, v in made.pairs:
        hour = 1 if t.date() != day else hour + 1
        day = t.date()
        out.append((t, hour, v))
    return out


@layout
def hour_ending(made: Made) -> Written:
    rows = [f"{t:%m/%d/%Y},{t.hour + 1},{v:.3f}" for t, v in made.pairs]
    return csv(table("Date,Hour Ending,kWh", rows))


@layout
def hour_ending_counted_on(made: Made) -> Written:
    return csv(table("Date,HE,kWh", [f"{t:%Y-%m-%d},HE{hour:02d},{v:.3f}" for t, hour, v in _by_hour(made)]))


@layout
def hours_from_zero(made: Made) -> Written:
    rows = [f"{t:%Y-%m-%d},{t.hour},{v:.3f}" for t, v in made.pairs]
    return csv(table("Date,Hour,kWh", rows))


@layout
def hours_as_spans(made: Made) -> Written:
    rows = [
        f"{b:%Y-%m-%d},{b:%H:%M} - {e:%H:%M},{v:.3f}" for b, e, v in zip(made.begins, made.ends, made.kwh, strict=True)
    ]
    return csv(table("Date,Interval,kWh", rows))


def _wide(made: Made, names: list[str], *, extra: int = 0, total: bool = False, counted: bool = True) -> str:
    per_day = 86_400 // made.step
    days: dict[str, dict[int, float]] = {}
    for t, v in made.pairs:
        row = days.setdefault(f"{t:%Y-%m-%d}", {})
        row[len(row) if counted else (t.hour * 3600 + t.minute * 60) // made.step] = v
    rows = []
    for day, row in days.items():
        cells = [f"{row[i]:.3f}" if i in row else "" for i in range(per_day + extra)]
        rows.append(",".join([day, *cells, *([f"{sum(row.values()):.3f}"] if total else [])]))
    return table(",".join(["Date", *names, *(["Total"] if total else [])]), rows)


@layout
def wide_by_clock(made: Made) -> Written:
    names = [f"{m // 60:02d}:{m % 60:02d}" for m in range(0, 1440, made.step // 60)]
    return csv(_wide(made, names, counted=False))


@layout
def wide_by_clock_ends(made: Made) -> Written:
    names = [f"{m // 60 % 24:02d}:{m % 60:02d}" for m in range(made.step // 60, 1441, made.step // 60)]
    return csv(_wide(made, names, counted=False))


@layout
def wide_am_and_pm(made: Made) -> Written:
    names = [
        f"{(m // 60 + 11) % 12 + 1}:{m % 60:02d} {'AM' if m < 720 else 'PM'}" for m in range(0, 1440, made.step // 60)
    ]
    return csv(_wide(made, [f"{name} (kWh)" for name in names], counted=False))


@layout
def wide_numbered(made: Made) -> Written:
    return csv(_wide(made, [f"HE{i + 1:02d}" for i in range(86_400 // made.step)], total=True))


@layout
def wide_with_extra_columns(made: Made) -> Written:
    extra = 3600 // made.step
    return csv(_wide(made, [f"V{i + 1}" for i in range(86_400 // made.step + extra)], extra=extra))


@layout
def wide_with_a_channel(made: Made) -> Written:
    per_day = 86_400 // made.step
    names = [f"Hour {i + 1}" for i in range(per_day)]
    drawn = _wide(made, names).splitlines()
    back = _wide(Made(made.start, made.step, made.back, made.back, made.rng, made.zone), names).splitlines()
    rows = [
        f"123456,{c},{line}"
        for pair in zip(drawn[1:], back[1:], strict=True)
        for c, line in zip(("DELIVERED", "RECEIVED"), pair, strict=True)
    ]
    return csv(table(f"Meter,Channel,{drawn[0]}", rows), back=True)


@layout
def watt_hours(made: Made) -> Written:
    return csv(table("time,Usage (Wh)", [f"{iso(t)},{v * 1000:.0f}" for t, v in made.pairs]))


@layout
def kilowatts(made: Made) -> Written:
    rows = [f"{iso(t)},{v * 3600 / made.step:.3f}" for t, v in made.pairs]
    return csv(table("time,kW", rows))


@layout
def watts_by_a_column_of_units(made: Made) -> Written:
    rows = [f"{iso(t)},{v * 3.6e6 / made.step:.0f},W" for t, v in made.pairs]
    return csv(table("time,value,unit", rows))


@layout
def unit_in_a_line_above(made: Made) -> Written:
    rows = [f"{iso(t)},{v * 1000:.0f}" for t, v in made.pairs]
    return csv("Meter,88123\nUnit,Wh\n\n" + table("time,value", rows))


@layout
def energy_and_power_beside_each_other(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{v * 3600 / made.step:.3f}" for t, v in made.pairs]
    return csv(table("time,kWh,kW", rows))


@layout
def lines_above_and_below(made: Made) -> Written:
    above = (
        'Account,0012345\nAddress,"4 Elm Court, Alder"\nPeriod,2025-03-07,2025-03-11\nGenerated,2025-03-12 08:15\n\n'
    )
    rows = rows_of(made, iso)
    return csv(above + table("Interval Start,kWh", rows) + f"\nTotal,{made.kwh.sum():.3f}\nEnd of report\n")


@layout
def header_repeated(made: Made) -> Written:
    rows = rows_of(made, iso)
    return csv(table("time,kwh", [*rows[:30], "time,kwh", *rows[30:]]))


@layout
def semicolons_and_decimal_commas(made: Made) -> Written:
    rows = [f"{t:%Y-%m-%d %H:%M};{v:.3f}".replace(".", ",") for t, v in made.pairs]
    return csv(table("Zeit;Verbrauch (kWh)", rows))


@layout
def tabs(made: Made) -> Written:
    return csv(table("time\tkwh", [row.replace(",", "\t") for row in rows_of(made, iso)]))


@layout
def bars(made: Made) -> Written:
    return csv(table("time|kwh", [row.replace(",", "|") for row in rows_of(made, iso)]))


@layout
def every_cell_in_quotes(made: Made) -> Written:
    return csv(table('"time","kwh"', [f'"{row.replace(",", chr(34) + "," + chr(34))}"' for row in rows_of(made, iso)]))


@layout
def thousands_with_commas(made: Made) -> Written:
    rows = [f'{iso(t)},"{v * 1000:,.0f}"' for t, v in made.pairs]
    return csv(table("time,Wh", rows))


@layout
def thousands_with_points(made: Made) -> Written:
    rows = [f"{iso(t)};{v * 1000:,.0f}".replace(",", ".") for t, v in made.pairs]
    return csv(table("time;Wh", rows))


@layout
def units_in_the_cells(made: Made) -> Written:
    return csv(table("time,usage", [f"{row} kWh" for row in rows_of(made, iso)]))


@layout
def byte_order_mark(made: Made) -> Written:
    return Written({"interval.csv": b"\xef\xbb\xbf" + table("time,kwh", rows_of(made, iso)).encode()})


@layout
def utf16(made: Made) -> Written:
    return Written(
        {"interval.csv": table("time\tkwh", [row.replace(",", "\t") for row in rows_of(made, iso)]).encode("utf-16")}
    )


@layout
def another_encoding_and_line_ends(made: Made) -> Written:
    text = table("Zeit,Zähler kWh", rows_of(made, iso)).replace("\n", "\r\n")
    return Written({"interval.csv": text.encode("cp1252")})


@layout
def old_line_ends(made: Made) -> Written:
    return csv(table("time,kwh", rows_of(made, iso)).replace("\n", "\r"))


@layout
def gzipped(made: Made) -> Written:
    return Written({"interval.csv.gz": gzip.compress(table("time,kwh", rows_of(made, iso)).encode())})


@layout
def zipped_by_months(made: Made) -> Written:
    rows, stream = rows_of(made, iso), io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("b.csv", table("time,kwh", rows[40:]))
        archive.writestr("a.csv", table("time,kwh", rows[:40]))
        archive.writestr("readme.md", "two parts")
    return Written({"interval.zip": stream.getvalue()})


@layout
def workbook(made: Made) -> Written:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Usage report"])
    sheet.append([])
    sheet.append(["Start", "kWh"])
    for t, v in made.pairs:
        sheet.append([t.replace(tzinfo=None), float(v)])
    stream = io.BytesIO()
    book.save(stream)
    return Written({"interval.xlsx": stream.getvalue()})


@layout
def parquet(made: Made) -> Written:
    import pandas as pd

    stream = io.BytesIO()
    times = pd.to_datetime(made.instants, unit="s", utc=True).tz_convert(ZONE)
    pd.DataFrame({"time": times, "kwh": made.kwh}).to_parquet(stream)
    return Written({"interval.parquet": stream.getvalue()})


@layout
def newest_first(made: Made) -> Written:
    return csv(table("time,kwh", rows_of(made, iso)[::-1]))


@layout
def overlapping_files(made: Made) -> Written:
    rows = rows_of(made, iso)  # one that begins within the repeated hour cannot be told from its first pass
    return Written({"interval/a.csv": table("time,kwh", rows[:60]), "interval/b.csv": table("time,kwh", rows[45:])})


@layout
def standard_time_all_year(made: Made) -> Written:
    return csv(table("time,kwh", rows_of(made, lambda t: iso(t.astimezone(UTC) - timedelta(hours=6)))))


def _register(made: Made) -> list[str]:
    values = 41_827.5 + np.concatenate([[0.0], np.cumsum(made.kwh)])
    times = [*made.begins, made.ends[-1]]
    return [f"{t.isoformat()},{v:.3f}" for t, v in zip(times, values, strict=True)]


@layout
def running_register(made: Made) -> Written:
    return csv(table("time,Meter Reading kWh", _register(made)))


@layout
def running_register_without_a_name(made: Made) -> Written:
    return csv(table("time,kwh", _register(made)))


@layout
def delivered_and_received_as_columns(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{b:.3f}" for t, v, b in zip(made.begins, made.kwh, made.back, strict=True)]
    return csv(table("time,Delivered kWh,Received kWh", rows), back=True)


@layout
def import_export_and_net(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{b:.3f},{v - b:.3f}" for t, v, b in zip(made.begins, made.kwh, made.back, strict=True)]
    return csv(table("time,Import (kWh),Export (kWh),Net (kWh)", rows), back=True)


@layout
def export_below_zero(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{-b:.3f}" for t, v, b in zip(made.begins, made.kwh, made.back, strict=True)]
    return csv(table("time,Consumption kWh,Generation kWh", rows), back=True)


@layout
def delivered_and_received_as_rows(made: Made) -> Written:
    rows = [
        f"{iso(t)},{name},{x:.3f}"
        for t, v, b in zip(made.begins, made.kwh, made.back, strict=True)
        for name, x in (("Delivered", v), ("Received", b))
    ]
    return csv(table("time,channel,kwh", rows), back=True)


@layout
def delivered_and_received_as_blocks_of_rows(made: Made) -> Written:
    rows = [f"{iso(t)},Consumption,{v:.3f}" for t, v in made.pairs]
    rows += [f"{iso(t)},Surplus Generation,{b:.3f}" for t, b in zip(made.begins, made.back, strict=True)]
    return csv(table("time,type,kwh", rows), back=True)


@layout
def delivered_and_received_as_files(made: Made) -> Written:
    back = [f"{iso(t)},{b:.3f}" for t, b in zip(made.begins, made.back, strict=True)]
    files = {
        "interval/delivered.csv": table("time,kwh", rows_of(made, iso)),
        "interval/received.csv": table("time,kwh", back),
    }
    return Written(dict(files), back=True)


@layout
def net_alone(made: Made) -> Written:
    rows = [f"{iso(t)},{v - b:.3f}" for t, v, b in zip(made.begins, made.kwh, made.back, strict=True)]
    return csv(table("time,Net kWh", rows), net=True)


@layout
def phases_as_columns(made: Made) -> Written:
    a = np.round(made.kwh * 0.4, 3)
    rows = [f"{iso(t)},{x:.3f},{v - x:.3f}" for t, x, v in zip(made.begins, a, made.kwh, strict=True)]
    return csv(table("time,L1 kWh,L2 kWh", rows))


@layout
def phases_and_their_total(made: Made) -> Written:
    a = np.round(made.kwh * 0.4, 3)
    rows = [f"{iso(t)},{x:.3f},{v - x:.3f},{v:.3f}" for t, x, v in zip(made.begins, a, made.kwh, strict=True)]
    return csv(table("time,Phase A kWh,Phase B kWh,Total kWh", rows))


@layout
def phases_as_rows(made: Made) -> Written:
    a = np.round(made.kwh * 0.4, 3)
    rows = [
        f"{iso(t)},{name},{x:.3f}"
        for t, x, v in zip(made.begins, a, made.kwh, strict=True)
        for name, x in (("Phase A", x), ("Phase B", v - x))
    ]
    return csv(table("time,phase,kwh", rows))


@layout
def cost_and_temperature_beside_it(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},{v * 0.14:.2f},41,Actual" for t, v in made.pairs]
    return csv(table("time,Usage,Cost ($),Temperature (F),Quality", rows))


@layout
def volts_beside_it(made: Made) -> Written:
    rows = [f"{iso(t)},{v:.3f},121.{i % 10}" for i, (t, v) in enumerate(made.pairs)]
    return csv(table("time,kWh,Volts", rows))


@layout
def account_and_meter_numbers_beside_it(made: Made) -> Written:
    rows = [f"0012345,88123,{iso(t)},{v:.3f},On-Peak" for t, v in made.pairs]
    return csv(table("Account Number,Meter Number,Read Time,kWh,Rate Period", rows))


@layout
def gas_in_other_rows(made: Made) -> Written:
    rows = [f"Electric usage,{iso(t)},{v:.3f}" for t, v in made.pairs]
    rows += [f"Natural gas usage,{iso(t)},0.1" for t in made.begins]
    return csv(table("Type,Time,Usage", rows))


@layout
def blanks_and_dashes_between(made: Made) -> Written:
    rows = rows_of(made, iso)
    return csv(table("time,kwh", [*rows[:20], "", *rows[20:40], ",", *rows[40:]]))


@dataclass
class Question:
    """A file that leaves something open: part of the question, and the answer that opens it."""

    files: dict[str, str | bytes]
    asks: str
    answer: str
    toml: str = field(default="")


def questions(made: Made) -> dict[str, Question]:
    """Files that cannot be read without one answer."""
    few = Made(made.start, made.step, made.kwh[:24], made.back[:24], made.rng)
    two = [f"{iso(t)},{v:.3f},{b:.3f}" for t, v, b in zip(made.begins, made.kwh, made.back, strict=True)]
    rows = [
        f"{iso(t)},{name},{x:.3f}"
        for t, v, b in zip(made.begins, made.kwh, made.back, strict=True)
        for name, x in (("1", v), ("2", b))
    ]
    day = [f"{t:%d/%m/%Y %H:%M},{v:.3f}" for t, v in zip(few.begins, few.kwh, strict=True)]
    words = [row.replace(",1,", ",main,").replace(",2,", ",barn,") for row in rows]
    return {
        "two columns": Question({"interval.csv": table("time,house,barn", two)}, "house, barn", "channel = 'house'"),
        "two words in the rows": Question(
            {"interval.csv": table("time,circuit,kwh", words)}, "main", "channel = 'main'"
        ),
        "one day that could be two": Question({"interval.csv": table("time,kwh", day)}, "date_format", ""),
    }

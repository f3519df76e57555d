"""Write the sample houses: ``python tests/data/make_samples.py [folder]`` (default ``sample_bills``).

Every name, place, figure and price is invented. Each house lives in ``physics.live`` hour by hour; what the
householder writes down differs from the truth by an amount for which the limits in ``loads.csv`` are honest.
"""

from __future__ import annotations

import csv
import io
import sys
import tomllib
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import physics
import xlsxwriter
from houses import ALL_WELL, BILLS_ONLY, COLD_WINTER, DANGER, ESTIMATED, FAST_METER, HOURLY, NEW_LOAD, Story

LOAD_COLUMNS = {
    "load": "name",
    "count": "count",
    "watts": "watts",
    "run_hours": "run_hours",
    "share_on": "share_on",
    "standby_watts": "standby_watts",
    "kwh_per_year": "kwh_per_year",
    "kwh_per_cycle": "kwh_per_cycle",
    "cycles_per_week": "cycles_per_week",
    "follows": "follows",
    "hours_per_degree_day": "hours_per_degree_day",
    "balance_temperature": "balance",
    "months": "months",
    "from": "arrives",
    "until": "leaves",
    "watts_within_percent": "watts_within",
    "hours_within_percent": "hours_within",
    "source": "source",
    "note": "note",
}


@dataclass
class BillRow:
    """One row of bills.csv before it becomes text."""

    start: str
    end: str
    kwh: float
    amount: str
    bill_date: str
    read_type: str
    reading_start: float
    reading_end: float
    meter: str


def bill_rows(story: Story, world: physics.World) -> list[BillRow]:
    """Bills as the utility printed them, the story's own accident included."""
    home = story.home
    readings = physics.register_readings(home, world)
    types = ["actual"] * len(readings)
    if story.estimate is not None:
        i, error = story.estimate
        opening, closing = readings[i]
        readings[i] = (opening, closing + error)
        readings[i + 1] = (closing + error, readings[i + 1][1])
        types[i] = "estimated"
    rows = []
    for i, (opening, closing) in enumerate(readings):
        start, end = home.reading_days[i], home.reading_days[i + 1]
        kwh = (closing - opening) % 100000
        if i == story.mistyped:
            kwh = transposed(kwh)
        new = any(day <= start for day in home.new_register_days)
        rows.append(
            BillRow(
                start.isoformat(),
                end.isoformat(),
                kwh,
                str(physics.amount(kwh, story.fixed, story.price, story.tax)),
                (end + timedelta(days=2)).isoformat(),
                types[i],
                opening,
                closing,
                story.meters[-1] if new else story.meters[0],
            )
        )
    return rows


def table(columns: dict[str, list[str]]) -> str:
    """A CSV text without the columns that are empty throughout."""
    kept = {name: cells for name, cells in columns.items() if any(cells)}
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(kept)
    writer.writerows(zip(*kept.values(), strict=True))
    return out.getvalue()


def text(value: object) -> str:
    """A cell: numbers without a needless fraction, None as empty."""
    return "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def loads_csv(story: Story) -> str:
    """The inventory as the householder writes it."""
    columns = {
        column: [text(getattr(item, name)) for item in story.home.items] for column, name in LOAD_COLUMNS.items()
    }
    columns["count"] = ["" if cell == "1" else cell for cell in columns["count"]]
    return table(columns)


def bills_csv(story: Story, rows: list[BillRow]) -> str:
    """Bills, with the columns this story's bills print."""
    names = ["start", "end", "kwh", "amount", "bill_date", "read_type"]
    if story.prints_readings:
        names += ["reading_start", "reading_end"]
    if len(story.meters) > 1:
        names.append("meter")
    columns = {name: [text(getattr(row, name)) for row in rows] for name in names}
    if story.note is not None:
        columns["note"] = [story.note[1] if i == story.note[0] else "" for i in range(len(rows))]
    return table(columns)


def weather_csv(story: Story, world: physics.World) -> str:
    """Daily lows and highs as a weather station gives them."""
    lows, highs, days = [], [], []
    for d in range(world.days):
        hours = world.temperature_c[world.day == d]
        if story.fahrenheit:
            hours = hours * 1.8 + 32.0
        places = 0 if story.fahrenheit else 1
        lows.append(f"{hours.min():.{places}f}")
        highs.append(f"{hours.max():.{places}f}")
        days.append((world.first + timedelta(days=d)).isoformat())
    return table({"date": days, "tmin": lows, "tmax": highs})


def interval_csv(story: Story, world: physics.World) -> str:
    """Hourly energy with local stamps that carry their offset from UTC."""
    zone = ZoneInfo(story.home.timezone)
    moments = (datetime.fromtimestamp(int(s), UTC).astimezone(zone) for s in world.seconds)
    stamps = [moment.isoformat(timespec="minutes") for moment in moments]
    return table({"start": stamps, "kwh": [f"{value:.3f}" for value in world.metered_kwh]})


def field_test_toml(story: Story, world: physics.World) -> str:
    """Checks with the covers on, as this house's meter would have shown them."""
    checks = story.checks
    assert checks is not None
    registration = story.home.meter_factor[-1][1]
    base = checks.always_w
    lamp = checks.reference_w
    quiet_pulses = round(base * registration * 900 / 3600)
    run_seconds = 100 * 3600 / ((base + lamp) * registration)
    return checks.text.format(
        quiet_pulses=quiet_pulses,
        run_seconds=f"{run_seconds:.1f}",
        run_kw=f"{(base + lamp) * registration / 1000:.3f}",
        reference_watts=f"{lamp:.0f}",
        background=f"{base * registration:.0f}",
    )


def write(story: Story, folder: Path) -> None:
    """Write one story's folder."""
    world = physics.live(story.home)
    rows = bill_rows(story, world)
    place = folder / story.folder
    place.mkdir(parents=True, exist_ok=True)
    files = {"house.toml": story.toml, "bills.csv": bills_csv(story, rows)}
    if story.lists_loads:
        files["loads.csv"] = loads_csv(story)
        files["weather.csv"] = weather_csv(story, world)
    if story.hourly:
        files["interval.csv"] = interval_csv(story, world)
    if story.checks is not None:
        files["field_test.toml"] = field_test_toml(story, world)
    for name, content in files.items():
        (place / name).write_text(content, encoding="utf-8")


def write_workbook(folder: Path, target: Path) -> None:
    """The tables of a folder as sheets of one workbook, dates and numbers as such."""
    with xlsxwriter.Workbook(target) as book:
        book.set_properties({"created": datetime(2025, 1, 1)})  # the same bytes each time
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        settings = tomllib.loads((folder / "house.toml").read_text(encoding="utf-8"))
        tables = {"house": [["key", "value"], *flattened(settings)]}
        for file in sorted(folder.glob("*.csv")):
            with file.open(encoding="utf-8", newline="") as rows:
                tables[file.stem] = [[typed(cell) for cell in row] for row in csv.reader(rows)]
        for name, rows in tables.items():
            sheet = book.add_worksheet(name)
            sheet.freeze_panes(1, 0)
            sheet.set_column(0, len(rows[0]) - 1, 18)
            for r, row in enumerate(rows):
                for c, cell in enumerate(row):
                    if isinstance(cell, date):
                        sheet.write_datetime(r, c, datetime(cell.year, cell.month, cell.day), day)
                    elif cell != "":
                        sheet.write(r, c, cell)


def flattened(node: object, path: str = "") -> list[list[object]]:
    """Keys of a TOML file as rows: ``tariff[1].energy``."""
    if isinstance(node, dict):
        return [row for key, item in node.items() for row in flattened(item, f"{path}.{key}".strip("."))]
    if isinstance(node, list):
        return [row for i, item in enumerate(node, 1) for row in flattened(item, f"{path}[{i}]")]
    return [[path, node]]


def typed(cell: str) -> object:
    """A text cell as the number or the date it stands for."""
    for kind in (date.fromisoformat, float):
        try:
            return kind(cell)
        except ValueError:
            continue
    return cell


def transposed(kwh: float) -> float:
    """The kWh with two neighbouring digits in each other's place, whichever pair gives the most."""
    digits = f"{kwh:.0f}"
    return max(float(digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :]) for i in range(len(digits) - 1))


STORIES = (ALL_WELL, COLD_WINTER, ESTIMATED, *FAST_METER, NEW_LOAD, DANGER, *HOURLY, BILLS_ONLY)


def main() -> None:
    """Write them all."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[2] / "sample_bills"
    for story in STORIES:
        write(story, folder)
    write_workbook(folder / ALL_WELL.folder, folder / f"{ALL_WELL.folder}.xlsx")


if __name__ == "__main__":
    main()

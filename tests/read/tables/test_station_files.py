"""Temperatures in the forms in which weather services give them out; values are invented."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from reconcile.errors import InputError
from reconcile.read import read_house

BILLS = "start,end,kwh\n2024-05-01,2024-05-31,600\n2024-05-31,2024-06-30,640\n"
DAYS = [date(2024, 5, 1) + timedelta(days=n) for n in range(61)]
MEANS = {day: 14.0 + n % 7 for n, day in enumerate(DAYS)}


def lines(head: str, line: str) -> str:
    """One line a day; the mean lies in the middle of high and low."""
    made = [
        line.format(
            d=day,
            hi=mean + 6,
            lo=mean - 6,
            hit=int(10 * mean + 60),
            lot=int(10 * mean - 60),
            hif=1.8 * (mean + 6) + 32,
            lof=1.8 * (mean - 6) + 32,
            k=mean + 273.15,
            m=mean,
        )
        for day, mean in MEANS.items()
    ]
    return head + "".join(f"{one}\n" for one in made)


def hourly(head: str, line: str) -> str:
    return head + "".join(
        line.format(d=day, h=hour, he=hour + 1, m=mean, t=int(10 * mean)) + "\n"
        for day, mean in MEANS.items()
        for hour in range(24)
    )


FORMS = {
    "ghcn by station": lines(
        "STATION,DATE,TMAX,TMAX_ATTRIBUTES,TMIN,TMIN_ATTRIBUTES\n", 'ZZX1,{d},{hit},",,W",{lot},",,W"'
    ),
    "ghcn by year": lines("", "ZZX00000001,{d:%Y%m%d},TMAX,{hit},,,W,0700\nZZX00000001,{d:%Y%m%d},TMIN,{lot},,,W,0700"),
    "ghcn with names": lines(
        "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG\n", "Z,{d:%Y%m%d},TMAX,{hit},,\nZ,{d:%Y%m%d},TMIN,{lot},,"
    ),
    "a year with its day apart": lines(
        "Date/Time,Year,Month,Day,Mean Temp (°C)\n", "{d},{d.year},{d.month},{d.day},{m}"
    ),
    "day in three columns": lines(
        "Year,Month,Day,Tmax (F),Tmin (F)\n", "{d.year},{d.month},{d.day},{hif:.1f},{lof:.1f}"
    ),
    "kelvins": lines("time,t2m (K)\n", "{d},{k:.2f}"),
    "DWD by days": lines(
        "STATIONS_ID;MESS_DATUM; TMK; TXK; TNK;eor\n", " 9;{d:%Y%m%d};{m:6.1f};{hi:6.1f};{lo:6.1f};eor"
    ),
    "header below the place": lines("latitude,longitude\n40.1,-99.2\n\ntime,temperature_2m_mean (°C)\n", "{d},{m}"),
    "day and hour apart": hourly("Date,Hour,Temp (C)\n", "{d:%m/%d/%Y},{h},{m}"),
    "hours from 1 to 24": hourly("Date,Hour,Temp (C)\n", "{d:%m/%d/%Y},{he},{m}"),
    "days numbered under each month": "May 2024\nDay,Max,Min\n"
    + lines("", "{d.day},{hi},{lo}").replace("\n1,", "\n\nJune 2024\nDay,Max,Min\n1,"),
    "months across, their days below": "Mean of the day 2024\nDay,May,Jun,Jul\n"
    + "".join(
        f"{n},{MEANS[date(2024, 5, n)]},{MEANS.get(DAYS[0] + timedelta(30 + n), '') if n < 31 else ''},\n"
        for n in range(1, 32)
    ),
    "months down, their days across": "Mean of the day,"
    + ",".join(map(str, range(1, 32)))
    + "\n"
    + "".join(
        f"{name} 2024,"
        + ",".join(str(MEANS.get(date(2024, month, n), "")) if n <= days else "" for n in range(1, 32))
        + "\n"
        for name, month, days in (("May", 5, 31), ("June", 6, 30), ("July", 7, 0))
    ),
    "letters behind": lines("DATE,TMAX,TMIN\n", "{d},{hi}A,{lo} B"),
    "dry bulb by hours": hourly("STATION,DATE,HourlyDryBulbTemperature\n", "7,{d}T{h:02d}:53:00,{m}"),
}


def read(folder: Path, text: str, settings: str = '[house]\ntemperature_unit = "C"\n') -> dict[date, float]:
    (folder / "bills.csv").write_text(BILLS)
    (folder / "weather.csv").write_text(text)
    (folder / "house.toml").write_text(settings)
    weather = read_house(folder).weather
    assert weather is not None
    return {weather.first + timedelta(days=n): float(c) for n, c in enumerate(weather.mean_c) if c == c}


@pytest.mark.parametrize("form", FORMS)
def test_every_form_gives_each_day_its_mean(tmp_path: Path, form: str) -> None:
    assert read(tmp_path, FORMS[form]) == pytest.approx(MEANS, abs=0.01)


def test_one_temperature_a_month_is_read_by_the_name_of_the_month(tmp_path: Path) -> None:
    found = read(tmp_path, "Month,Mean temp\nApr 2024,9\nMay 2024,14\nJune 2024,19\n")
    assert (len(found), found[date(2024, 5, 17)], found[date(2024, 6, 30)]) == (91, 14.0, 19.0)


def test_a_temperature_that_failed_the_stations_check_is_left_out(tmp_path: Path) -> None:
    text = FORMS["ghcn by year"].replace("20240510,TMAX,220,,,W", "20240510,TMAX,220,,G,W")
    assert text != FORMS["ghcn by year"]
    assert MEANS.keys() - read(tmp_path, text).keys() == {date(2024, 5, 10)}


def test_hours_of_utc_are_put_into_the_days_of_the_house(tmp_path: Path) -> None:
    text = hourly("", "{d.year} {d.month:02d} {d.day:02d} {h:02d}  {t:4d} 20 10130 180 20 -9999 -9999 -9999")
    found = read(tmp_path, text, '[house]\ntimezone = "America/Chicago"\n')
    ours = {day: (19 * MEANS[day] + 5 * MEANS[day + timedelta(days=1)]) / 24.0 for day in DAYS[:-1]}
    assert {day: found[day] for day in ours} == pytest.approx(ours, abs=0.01)


@pytest.mark.parametrize("missing", ["-9999", "-999", "9999.9", "-99.9"])
def test_what_stations_write_for_none_is_no_temperature(tmp_path: Path, missing: str) -> None:
    found = read(tmp_path, lines("date,mean\n", "{d},{m}").replace("2024-05-10,16.0", f"2024-05-10,{missing}"))
    assert MEANS.keys() - found.keys() == {date(2024, 5, 10)}


def test_whole_degrees_are_no_tenths(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="never that cold or warm"):
        read(tmp_path, lines("date,mean (C)\n", "{d},{hit}"))


def test_one_slip_makes_no_tenths(tmp_path: Path) -> None:
    text = "".join(f"{day},{int(mean)}\n" for day, mean in MEANS.items()).replace("2024-05-10,16", "2024-05-10,400")
    with pytest.raises(InputError, match="never that cold or warm"):
        read(tmp_path, "date,mean\n" + text)


def test_tenths_of_a_cold_season_are_told_by_how_far_each_day_swings(tmp_path: Path) -> None:
    rows = [f"{day},{int(10 * mean) - 90},{int(10 * mean) - 210}\n" for day, mean in MEANS.items()]
    found = read(tmp_path, "STATION,DATE,TMAX,TMIN\n" + "".join(f"Z1,{row}" for row in rows))
    assert found[DAYS[3]] == pytest.approx(MEANS[DAYS[3]] - 15.0)


def test_whole_numbers_that_hardly_swing_are_no_tenths_however_large(tmp_path: Path) -> None:
    rows = "".join(f"{day},{int(mean) + 130},{int(mean) + 120}\n" for day, mean in MEANS.items())
    with pytest.raises(InputError):
        read(tmp_path, "DATE,TMAX,TMIN\n" + rows)


@pytest.mark.parametrize(
    "head", ["Date,Hi \N{DEGREE SIGN}C,Lo \N{DEGREE SIGN}C\n", "Date,High in Celsius,Low in Celsius\n"]
)
def test_the_unit_may_end_a_heading_without_brackets(tmp_path: Path, head: str) -> None:
    rows = "".join(f"{day},{mean + 5},{mean - 5}\n" for day, mean in MEANS.items())
    assert read(tmp_path, head + rows)[DAYS[3]] == pytest.approx(MEANS[DAYS[3]])

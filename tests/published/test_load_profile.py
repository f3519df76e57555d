"""The household standard load profile of the German energy industry (BDEW H0, by demandlib) as outside series:
twelve months of quarter hours that nobody here made.
"""

from datetime import date, datetime, time, timedelta
from functools import cache
from importlib import metadata
from importlib.util import find_spec
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

import reconcile
from reconcile.clock import local_instants
from reconcile.house import Band, Bill, House, Interval
from reconcile.interval import examine, findings
from reconcile.paper import examine as examine_paper

TABLE = (
    next((file.locate() for file in (metadata.files("demandlib") or ()) if file.name == "selp_series.csv"), None)
    if find_spec("demandlib")
    else None
)
pytestmark = pytest.mark.skipif(TABLE is None, reason="demandlib is not installed")

KWH = 4000.0
ZONE = "Europe/Berlin"
EDGES = [date(2024, month, 9) for month in range(1, 13)]


@cache
def year():
    """Starts in local time of 2024 and kWh, for a household of 4,000 kWh.

    Only the package's table is read, as its code asks pandas for what pandas has given up. Seasons and the factor of
    the day of the year are those of the profile (from memory).
    """
    table = pd.read_csv(TABLE)
    shape = {key: part["h0"].to_numpy() for key, part in table.groupby(["period", "weekday"])}
    days = [date(2024, 1, 1) + timedelta(days=n) for n in range(366)]
    t = np.arange(1, 367)
    factor = -3.92e-10 * t**4 + 3.2e-7 * t**3 - 7.02e-5 * t**2 + 2.1e-3 * t + 1.24
    kwh = np.concatenate([f * shape[season(day), day.isoweekday()] for f, day in zip(factor, days, strict=True)])
    stamps = [datetime.combine(day, time()) + timedelta(minutes=15 * quarter) for day in days for quarter in range(96)]
    return stamps, np.round(kwh * KWH / kwh.sum(), 4)


def season(day):
    """Season of the profile."""
    at = (day.month, day.day)
    if (5, 15) <= at <= (9, 14):
        return "summer"
    return "winter" if at >= (11, 1) or at <= (3, 20) else "transition"


def house(*, hour=0, wrong=None, minutes=15):
    """Monthly bills read at one hour of their day, one of them wrong by a part of it."""
    kwh = year()[1]
    seconds = local_instants([date(2024, 1, 1)], ZoneInfo(ZONE))[0] + 900 * np.arange(len(kwh))
    counted = np.concatenate([[0.0], np.cumsum(kwh)])
    at = local_instants(EDGES, ZoneInfo(ZONE)) + 3600 * hour
    read = np.interp(at, np.append(seconds, seconds[-1] + 900), counted)
    billed = np.round(np.diff(np.floor(read)))
    if wrong is not None:
        billed[wrong] = np.round(1.03 * billed[wrong])
    every = minutes // 15
    whole = len(kwh) // every * every
    data = Interval(
        seconds[:whole:every].astype("datetime64[s]"), kwh[:whole].reshape(-1, every).sum(axis=1), 60 * minutes
    )
    bills = tuple(Bill(a, b, kwh=float(k)) for (a, b), k in zip(pairwise(EDGES), billed, strict=True))
    return House("Standard", bills, timezone=ZONE, interval=data, band=Band())


@pytest.mark.parametrize("hour", [-9, 0, 14])
@pytest.mark.parametrize("minutes", [15, 60])
def test_bills_read_at_any_hour_tie_out_and_a_wrong_one_does_not(hour, minutes):
    honest = house(hour=hour, minutes=minutes)
    result = examine(honest, examine_paper(honest))
    assert all(row.within for row in result.tie_out)
    assert not findings(result, honest)
    false = house(hour=hour, wrong=5, minutes=minutes)
    reported = findings(examine(false, examine_paper(false)), false)
    assert [finding.periods for finding in reported] == [(5,)]


def test_an_even_profile_accuses_nobody():
    answer = reconcile.reconcile(house())
    causes = {cause.code: cause.probability for cause in answer.causes}
    assert sum(causes.get(code, 0.0) for code in ("meter-step", "meter-always", "meter-low")) <= 0.2
    assert answer.interval.onset is None


def test_the_file_of_it_is_read_to_the_last_watt_hour(tmp_path: Path):
    index, kwh = year()
    (tmp_path / "house.toml").write_text(f'[house]\nname = "Standard"\ntimezone = "{ZONE}"\n', encoding="utf-8")
    (tmp_path / "bills.csv").write_text(
        "start,end,kwh\n" + "".join(f"{a},{b},300\n" for a, b in pairwise(EDGES)), encoding="utf-8"
    )
    rows = [f"{stamp:%Y-%m-%d %H:%M},{value:.4f}" for stamp, value in zip(index, kwh, strict=True)]
    # the profile has 96 quarters every day: on the days on which the clock changes it is no clock's
    changes = {date(2024, 3, 31), date(2024, 10, 27)}
    kept = [row for row, stamp in zip(rows, index, strict=True) if stamp.date() not in changes]
    (tmp_path / "interval.csv").write_text("timestamp,kwh\n" + "\n".join(kept) + "\n", encoding="utf-8")
    wanted = sum(value for value, stamp in zip(kwh, index, strict=True) if stamp.date() not in changes)
    read = reconcile.read_house(tmp_path)
    assert len(read.interval.kwh) == len(kept)
    np.testing.assert_allclose(read.interval.kwh.sum(), wanted, rtol=0, atol=1e-6)
    assert read.interval.starts[-1] - read.interval.starts[0] >= np.timedelta64(timedelta(days=365))

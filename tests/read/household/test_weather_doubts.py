"""Weather whose every value is possible and which together cannot be."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from reconcile.errors import InputError
from reconcile.read import read_house
from reconcile.read.household.weather_doubts import COLD_SUMMER_C, WARM_WINTER_C, exchanged, in_other_unit

SAMPLES = Path(__file__).parents[3] / "sample_bills"
NAMES = sorted(folder.name for folder in SAMPLES.iterdir() if (folder / "weather.csv").exists())


def means(name: str) -> dict[date, float]:
    weather = read_house(SAMPLES / name).weather
    assert weather is not None
    return {weather.first + timedelta(days=n): float(c) for n, c in enumerate(weather.mean_c) if c == c}


def turned(day: date) -> date:
    return day.replace(month=day.day, day=day.month) if day.day <= 12 else day


@pytest.mark.parametrize("name", NAMES)
def test_days_and_months_exchanged_are_seen_and_no_others(name: str) -> None:
    known = means(name)
    assert exchanged(known) is None
    moved = exchanged({turned(day): value for day, value in known.items()})
    assert moved is not None
    assert moved.day <= 12


@pytest.mark.parametrize("name", NAMES)
def test_a_year_that_no_place_has_is_seen(name: str) -> None:
    known = means(name)
    assert not in_other_unit(known)
    coldest = min(known.values())
    assert in_other_unit({day: value - coldest + WARM_WINTER_C + 0.1 for day, value in known.items()})
    warmest = max(known.values())
    assert in_other_unit({day: value - warmest + COLD_SUMMER_C - 0.1 for day, value in known.items()})
    assert not in_other_unit(dict.fromkeys(list(known)[:200], -20.0))


def test_the_fault_names_the_date_to_write(tmp_path: Path) -> None:
    for path in (SAMPLES / "all_well").iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    rows = [f"{turned(day)},{value}" for day, value in means("all_well").items()]
    (tmp_path / "weather.csv").write_text("\n".join(["date,mean", *rows]) + "\n", encoding="utf-8")
    with pytest.raises(InputError, match="day and month exchanged") as refused:
        read_house(tmp_path)
    (fault,) = refused.value.faults
    assert (fault.row, fault.column) == (1, "date")

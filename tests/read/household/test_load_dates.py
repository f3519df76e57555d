"""Dates of loads: a month will do, and day and month stand as they do in the bills."""

from __future__ import annotations

from datetime import date
from itertools import pairwise
from pathlib import Path

import pytest

import reconcile
from reconcile.errors import InputError
from reconcile.house import House

DAYS = ("14/1/2025", "13/2/2025", "14/3/2025", "12/4/2025", "13/5/2025", "13/6/2025")


def read(tmp_path: Path, when: str, until: str = "", days: tuple[str, ...] = DAYS) -> House:
    rows = "".join(f"{a},{b},500\n" for a, b in pairwise(days))
    (tmp_path / "bills.csv").write_text("start,end,kwh\n" + rows)
    (tmp_path / "loads.csv").write_text(f"load,watts,run_hours,from,until\nhot tub,400,24,{when},{until}\n")
    return reconcile.read_house(tmp_path)


@pytest.mark.parametrize("when", ["March 2025", "Mar-25", "2025-03", "03/2025"])
def test_a_load_comes_on_the_first_day_of_a_month_and_stays_through_the_last(tmp_path: Path, when: str) -> None:
    (load,) = read(tmp_path, when, when).loads
    assert (load.arrives, load.leaves) == (date(2025, 3, 1), date(2025, 4, 1))


def test_day_and_month_of_a_load_stand_as_in_the_bills(tmp_path: Path) -> None:
    house = read(tmp_path, "3/4/2025")
    assert house.loads[0].arrives == date(2025, 4, 3)
    assert any("loads.csv is read as: 3/4/2025 is 2025-04-03" in notice for notice in house.notices)
    turned = tuple("/".join((d.split("/")[1], d.split("/")[0], "2025")) for d in DAYS)
    assert read(tmp_path, "3/4/2025", days=turned).loads[0].arrives == date(2025, 3, 4)


def test_it_is_still_asked_where_the_bills_do_not_show_it(tmp_path: Path) -> None:
    iso = tuple("-".join(reversed([part.zfill(2) for part in day.split("/")])) for day in DAYS)
    with pytest.raises(InputError, match="more than one way"):
        read(tmp_path, "3/4/2025", days=iso)


def test_fifteen_lamps_of_a_list_of_names_are_the_lamps_of_one_home(tmp_path: Path) -> None:
    rows = "".join(f"{a},{b},500\n" for a, b in pairwise(DAYS))
    (tmp_path / "bills.csv").write_text("start,end,kwh\n" + rows)
    (tmp_path / "loads.csv").write_text("load,count\nlights,15\nfridge,2\n")
    house = reconcile.read_house(tmp_path)
    lights, fridge = house.loads
    assert lights.count * (lights.watts or 0.0) == pytest.approx(300.0, abs=0.1)
    assert fridge.watts == 160.0
    assert any("300 W for all 15 together" in notice for notice in house.notices)

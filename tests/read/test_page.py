"""The page on formats names every file, column, key and word that the readers know, and its examples are read."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import get_args

import pytest
from columns_page import with_parts

from reconcile.errors import Fault
from reconcile.house import DANGERS, BillType, Follows, ReadType, Service, Source
from reconcile.read import read_house
from reconcile.read.bills import charge_table as charges
from reconcile.read.bills import register_table as registers
from reconcile.read.bills import tariff_tables as tariff
from reconcile.read.household import events, settings
from reconcile.read.tables import bounds as limits
from reconcile.read.tables.columns import TABLES as DECLARED
from reconcile.read.wrappings import folder
from reconcile.read.wrappings.sources import TABLES

PAGE = Path(__file__).parents[2].joinpath("docs", "formats.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(\w*)\n(.*?)```", PAGE, re.DOTALL)
CODE = [text for _, text in BLOCKS] + re.findall(r"`([^`\n]+)`", PAGE)
WORDS = {word for text in CODE for word in re.split(r"[^\w.\-]+", text)}

KNOWN = {
    "files": [*folder.KNOWN],
    "settings": [key for keys in settings.TABLES.values() for key in keys],
    "bills": [*DECLARED["bills"].names, *get_args(BillType), *get_args(ReadType)],
    "loads": [*DECLARED["loads"].names, *get_args(Follows), *get_args(Source)],
    "events": [*DECLARED["events"].names, *events.KINDS],
    "readings": [*DECLARED["readings"].names, *registers.EVENTS],
    "charges": [*DECLARED["charges"].names, *charges.PARTS],
    "tariff": [*tariff.CHARGE, *tariff.TARIFF, *tariff.BLOCK, *tariff.WINDOW, *tariff.APPLIES],
    "dangers and services": [*DANGERS, *get_args(Service)],
    "actions": ["blank", "gap", "repeat", "conflict", "off-step", "clock-forward", "clock-back", "clock-back-once"],
}


@pytest.mark.parametrize("part", KNOWN)
def test_the_page_names_all_that_is_read(part: str) -> None:
    # a tariff's list of charges stands on the page as [[tariff.charge]]
    missing = [name for name in KNOWN[part] if name not in WORDS and f".{name}]]" not in PAGE]
    assert missing == []


def test_the_page_states_the_limits_that_hold() -> None:
    for number in (*(DECLARED[name].most_rows for name in ("bills", "loads", "events")), limits.LONGEST_PERIOD_DAYS):
        assert f"{number}" in PAGE
    assert f"{limits.COLDEST_C:.0f} to {limits.WARMEST_C:.0f} °C".replace("-", "\N{MINUS SIGN}") in PAGE
    assert all(f"{efficiency:g}" in PAGE for _, efficiency in limits.MOTOR_EFFICIENCY)


def test_the_examples_of_the_page_are_read(make_house: Callable[..., Path]) -> None:
    tables = {text.split("\n")[0]: text for kind, text in BLOCKS if kind == "text"}
    tomls = [text for kind, text in BLOCKS if kind == "toml"]
    assert len(tomls) == 3
    for toml in tomls:
        changes = {"bills.csv": tables["start,end,kwh"], "interval.csv": tables["time,kwh"], "house.toml": toml}
        house = read_house(make_house({**changes, "weather.csv": None}))
        assert len(house.bills) == 2
        assert house.interval is not None
    assert [charge.basis for charge in house.tariffs[0].charges] == ["per_day", "blocks", "per_kwh", "percent"]


def test_the_fault_on_the_page_is_what_is_said(
    make_house: Callable[..., Path], faults_of: Callable[[Path], tuple[Fault, ...]]
) -> None:
    (shown,) = [text.strip() for kind, text in BLOCKS if not kind]
    text = "start,end,kwh\n2025-01-07,2025-02-06,912\n2025-02-06,03/04/2025,801\n"
    assert [str(fault) for fault in faults_of(make_house({"bills.csv": text}))] == [shown]


def test_every_table_has_a_part_of_the_page() -> None:
    assert all(f"`{name}.csv`" in PAGE for name in TABLES)


def test_the_tables_of_columns_are_those_that_are_declared() -> None:
    # written anew by: python tests/columns_page.py
    assert with_parts(PAGE) == PAGE

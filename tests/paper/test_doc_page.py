"""The page on billing records: its tariffs read, its sums are right, its examples run, and it names every finding."""

from __future__ import annotations

import doctest
import re
import tomllib
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from reconcile.money.refund import rules
from reconcile.money.tariff_lines import Use, price_bill, total
from reconcile.read.bills.tariff_tables import read_tariffs
from reconcile.read.tables.gate import Gate
from reconcile.texts.labels import FINDINGS

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "billing-records.md").read_text(encoding="utf-8")
TARIFFS = re.findall(r"```toml\n(.*?)```", PAGE, flags=re.S)


def read(text):
    gate = Gate()
    made = read_tariffs(tomllib.loads(text)["tariff"], gate)
    gate.raise_if_any()
    return made


@pytest.mark.parametrize("text", TARIFFS)
def test_its_tariffs_read(text):
    assert read(text)


@pytest.mark.parametrize(("place", "end", "whole"), [(0, date(2024, 3, 31), "99.74"), (1, date(2024, 4, 1), "100.03")])
def test_its_sums_are_right(place, end, whole):
    lines = price_bill(read(TARIFFS[place]), Use(date(2024, 3, 1), end, Decimal(1000)))
    assert str(total(lines)) == whole
    assert whole in PAGE


def test_its_examples_run(monkeypatch):
    monkeypatch.chdir(ROOT)
    test = doctest.DocTestParser().get_doctest(PAGE, {}, "billing-records.md", None, 0)
    assert test.examples
    runner = doctest.DocTestRunner(verbose=False)
    runner.run(test)
    assert runner.summarize(verbose=False).failed == 0


def test_it_names_every_finding_and_every_rule():
    for code in FINDINGS:
        assert f"`{code}`" in PAGE, code
    for code in rules():
        assert f"| {code} |" in PAGE

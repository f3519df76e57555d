"""Houses at the edges of what is let through are refused with their faults, or answered; nothing else comes out."""

from __future__ import annotations

import locale
import subprocess
import sys
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from extreme import extreme_house

from reconcile import cli
from reconcile.answer import reconcile
from reconcile.money.tariff_lines import rounded
from reconcile.read import read_house

ROOT = Path(__file__).parents[1]


@pytest.mark.parametrize("seed", [*range(0, 24, 2), 2045])
def test_an_extreme_house_is_refused_or_answered(
    seed: int, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("RECONCILE_RAISE", raising=False)
    house = tmp_path / "house"
    house.mkdir()
    for name, text in extreme_house(seed).items():
        (house / name).write_text(text, encoding="utf-8")
    status = cli.run(["check", str(house), "--quiet"])
    err = capsys.readouterr().err
    assert status in (0, 2), err
    assert bool(err) == bool(status)


@pytest.mark.parametrize("limit", [0.0, 300.0, 800.0, 1000.0])
def test_limits_that_say_nothing_are_survived(limit: float) -> None:
    house = read_house(ROOT / "sample_bills" / "all_well")
    loads = tuple(replace(one, watts_within_percent=limit, hours_within_percent=limit) for one in house.loads)
    answer = reconcile(replace(house, loads=loads))
    assert all(row.high_kwh is not None and row.high_kwh < 1e6 for row in answer.rows)


def test_percentages_of_percentages_are_rounded_whatever_their_size() -> None:
    assert rounded(Decimal("1e40") + Decimal("1e13"), 2) == Decimal("1e40") + Decimal("1e13")


def test_the_process_s_locale_changes_nothing() -> None:
    """In a process of its own: other tests must not see the locale."""
    try:
        before = locale.setlocale(locale.LC_ALL)
        locale.setlocale(locale.LC_ALL, "de_DE.UTF-8")
        locale.setlocale(locale.LC_ALL, before)
    except locale.Error:
        pytest.skip("the system has no German locale")
    code = (
        "import json, locale, sys\nlocale.setlocale(locale.LC_ALL, sys.argv[1])\n"
        "import reconcile\nfrom reconcile.report.pages.html import render\n"
        "from reconcile.report.screens.terminal import terminal_text\n"
        "answer = reconcile.reconcile(reconcile.read_house(sys.argv[2]))\n"
        "print(json.dumps([answer.to_dict(), terminal_text(answer, 100, False), render(answer)]))"
    )
    house = str(ROOT / "sample_bills" / "fast_meter_checked")
    said = {
        subprocess.run([sys.executable, "-c", code, name, house], capture_output=True, text=True, check=True).stdout
        for name in ("C", "de_DE.UTF-8")
    }
    assert len(said) == 1


def test_a_date_by_its_form_is_read_in_english_whatever_the_locale() -> None:
    from datetime import date

    from reconcile.read.values import dates

    for text, form in (("7 Mar 2025", "D MMM YYYY"), ("07/03/25", "DD/MM/YY"), ("2025.3.7", "%Y.%m.%d")):
        assert dates.parse(text, form)[0] == date(2025, 3, 7)
    for text, form in (("7 Mär 2025", "D MMM YYYY"), ("07/03", "DD/MM/YYYY"), ("31/02/2025", "DD/MM/YYYY")):
        with pytest.raises(dates.DateError):
            dates.parse(text, form)

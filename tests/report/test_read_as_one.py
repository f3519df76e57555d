"""An estimate and the bill that trues it up are read as one; far limits of a list leave the bills their room."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from matplotlib.collections import PolyCollection

import reconcile
from reconcile import figures
from reconcile.report.drawn import drawing
from reconcile.report.views.read_as_one import rows_joined
from reconcile.report.views.view import view
from reconcile.result import Reconciliation

SAMPLES = Path(__file__).parents[2] / "sample_bills"
WIDTHS = (drawing.WIDE_INCHES, drawing.NARROW_INCHES)


@pytest.fixture(scope="module")
def estimated() -> Reconciliation:
    return reconcile.reconcile(reconcile.read_house(SAMPLES / "estimated_read"))


def test_an_estimate_and_its_catch_up_have_one_usual_range_and_one_mark(estimated: Reconciliation) -> None:
    rows = view(estimated)["periods"]
    (at,) = (i for i, row in enumerate(rows) if row["read"] == "estimated reading")
    early, late = rows[at], rows[at + 1]
    assert early["usual"] == early["excess"] == "–"
    assert not early["amount"]
    assert "1,021 kWh in 62 days, 16.5 kWh a day, as usual" in early["pair"]
    low, high = (float(end.replace(",", "")) for end in late["usual"].removeprefix("both ").split(" to "))
    assert low < 1021 < high
    assert late["usual"].startswith("both ")
    assert "as usual" not in early["word"]
    assert late["word"] == "both as usual"


@pytest.mark.parametrize("figure", [figures.bills_against_bands, figures.excess_by_period], ids=lambda f: f.__name__)
def test_no_usual_box_stands_at_the_estimate(estimated: Reconciliation, figure: Callable[..., object]) -> None:
    ax = figure(estimated)
    (one,) = rows_joined(estimated)[1]
    span = (drawing.on_axis(one.row.start), drawing.on_axis(one.row.end))
    boxes = [
        path.get_extents()
        for many in ax.collections
        if isinstance(many, PolyCollection)
        and drawing.USUAL["edgecolor"].lower() in {_hex(color) for color in many.get_edgecolor()}
        for path in many.get_paths()
    ]
    over = [box for box in boxes if box.x0 < span[1] and box.x1 > span[0]]
    assert [(box.x0, box.x1) for box in over] == [span]
    if figure is figures.bills_against_bands:
        assert over[0].y0 < 1021 / 62 < over[0].y1
        assert any(text.get_text() == "read as one" for text in ax.texts)


def _hex(color: object) -> str:
    from matplotlib.colors import to_hex

    return to_hex(color)


def test_bills_out_of_range_are_never_joined(estimated: Reconciliation) -> None:
    (one,) = rows_joined(estimated)[1]
    rows = tuple(replace(row, flag="over") if i == one.first else row for i, row in enumerate(estimated.rows))
    assert rows_joined(replace(estimated, rows=rows)) == (list(rows), [])


@pytest.mark.parametrize("width", WIDTHS)
def test_a_vague_list_never_flattens_the_bills(make: Callable[..., Reconciliation], width: float) -> None:
    result = make(12, 3)
    wide = tuple(replace(row, low_kwh=0.0, high_kwh=60_000.0) for row in result.rows)
    with drawing.settings():
        ax = figures.bills_against_bands(replace(result, rows=wide), width=width)
    most = max(row.billed_kwh / row.days for row in result.rows)
    assert ax.get_ylim()[1] < 2.0 * most
    told = " ".join(text.get_text() for text in ax.texts)
    assert "2,1" in told  # 60,000 kWh in 28 days
    assert "↑" in told
    assert "goes on above" in ax.get_label()


@pytest.mark.parametrize("width", WIDTHS)
def test_the_two_largest_and_the_one_of_the_headline_are_labeled(
    make: Callable[..., Reconciliation], width: float
) -> None:
    result = make(12, 3)
    excess = [0.0] * 12
    excess[5], excess[6], excess[7] = 90.0, 95.0, 400.0
    rows = tuple(
        replace(
            row,
            flag="over" if more else "within",
            billed_kwh=800.0 + more,
            excess_kwh=more,
            usual_kwh=800.0,
            usual_low_kwh=730.0,
            usual_high_kwh=870.0,
        )
        for row, more in zip(result.rows, excess, strict=True)
    )
    named = result.voice.span(rows[5].start, rows[5].end)
    verdict = replace(result.verdict, headline=f"The bill of {named} is high.")
    with drawing.settings():
        for figure in (figures.bills_against_bands, figures.excess_by_period):
            ax = figure(replace(result, rows=rows, verdict=verdict), width=width)
            told = [text.get_text() for text in ax.texts]
            assert {"+400", "+100", "+90"} <= set(told) or {"+400", "+95", "+90"} <= set(told), told


def test_the_first_sentence_of_what_to_do_first_says_what_to_do() -> None:
    answer = reconcile.reconcile(reconcile.read_house(SAMPLES / "fast_meter_checked"))
    assert view(answer)["first"]["text"].startswith("Ask the utility for the test record of the old meter")
    again = next(step.text for step in answer.verdict.next_steps if step.code == "run-again")
    assert again.startswith("Make the run with a known load")

from __future__ import annotations

import base64
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations
from xml.etree import ElementTree

import pytest
from contrast import contrast, luminance
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure

from reconcile import figures
from reconcile.report.drawn import drawing
from reconcile.result import Reconciliation

EVERY = [getattr(figures, name) for name in figures.__all__]
WIDTHS = (drawing.WIDE_INCHES, drawing.NARROW_INCHES)

Make = Callable[..., Reconciliation]


def drawn(figure: Callable[..., Axes], result: Reconciliation, width: float) -> tuple[Axes, FigureCanvasAgg]:
    with drawing.settings():
        ax = figure(result, width=width)
        canvas = FigureCanvasAgg(ax.get_figure())
        canvas.draw()
    return ax, canvas


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize(("periods", "loads"), [(1, 3), (2, 1), (3, 3), (12, 8), (18, 30), (60, 30)])
@pytest.mark.parametrize("figure", EVERY, ids=lambda f: f.__name__)
def test_nothing_written_is_cut_or_written_over(
    make: Make, figure: Callable[..., Axes], periods: int, loads: int, width: float
) -> None:
    ax, canvas = drawn(figure, make(periods, loads), width)
    renderer = canvas.get_renderer()
    across, tall = canvas.get_width_height()
    bottom, top = ax.get_ylim()
    labels = [*ax.texts, *(ax.get_xticklabels() if ax.axison else ())]
    labels += [
        label for label in (ax.get_yticklabels() if ax.axison else ()) if bottom <= label.get_position()[1] <= top
    ]
    boxes = [(t.get_text(), t.get_window_extent(renderer)) for t in labels if t.get_text().strip() and t.get_visible()]
    assert boxes
    for words, box in boxes:
        assert box.x0 >= -1, words
        assert box.y0 >= -1, words
        assert box.x1 <= across + 1, words
        assert box.y1 <= tall + 1, words
    for (one, a), (other, b) in combinations(boxes, 2):
        apart = a.x1 <= b.x0 + 1 or b.x1 <= a.x0 + 1 or a.y1 <= b.y0 + 2.5 or b.y1 <= a.y0 + 2.5
        assert apart, (one, other)


@pytest.mark.parametrize("figure", EVERY, ids=lambda f: f.__name__)
def test_a_figure_draws_where_it_is_told_and_describes_itself(make: Make, figure: Callable[..., Axes]) -> None:
    ax = Figure().add_subplot()
    assert figure(make(12, 8), ax) is ax
    assert len(ax.get_label()) > 30


@pytest.mark.parametrize("figure", EVERY, ids=lambda f: f.__name__)
def test_the_same_answer_gives_the_same_picture(make: Make, figure: Callable[..., Axes]) -> None:
    first = drawing.svg(lambda: figure(make(12, 8)))
    assert first == drawing.svg(lambda: figure(make(12, 8)))
    page = base64.b64decode(first[0].partition("base64,")[2])
    assert b"dc:date" not in page
    assert ElementTree.fromstring(page).tag.endswith("svg")


@pytest.mark.parametrize("figure", EVERY, ids=lambda f: f.__name__)
def test_no_inventory_and_no_judged_period_still_draw(make: Make, figure: Callable[..., Axes]) -> None:
    bare = make(3, 1)
    empty = {"loads": (), "causes": (), "visible": None, "measures": ()}
    unknown = dict.fromkeys(
        ("billed_kwh", "expected_kwh", "low_kwh", "high_kwh", "usual_kwh", "usual_low_kwh", "usual_high_kwh")
    )
    rows = tuple(replace(row, flag="not-judged", excess_kwh=None, **unknown) for row in bare.rows)
    ax, _ = drawn(figure, replace(bare, rows=rows, **empty), drawing.NARROW_INCHES)
    assert ax.get_label().endswith(".")


def test_bills_stand_at_their_height_in_the_shape_of_their_flag(make: Make) -> None:
    result = make(12, 8)
    ax, _ = drawn(figures.bills_against_bands, result, drawing.WIDE_INCHES)
    shapes = {line.get_marker(): list(line.get_ydata()) for line in ax.lines if line.get_marker() not in ("None", "")}
    high = [row for row in result.rows if row.flag == "over"]
    assert high
    assert shapes["^"] == pytest.approx([row.billed_kwh / row.days for row in high])
    assert "v" not in shapes


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("periods", [6, 12, 18, 60])
@pytest.mark.parametrize("figure", [figures.bills_against_bands, figures.excess_by_period], ids=lambda f: f.__name__)
def test_no_label_of_a_period_covers_anothers_mark(
    make: Make, figure: Callable[..., Axes], periods: int, width: float
) -> None:
    result = make(periods, 3)
    ax, canvas = drawn(figure, result, width)
    by_day = figure is figures.bills_against_bands
    tops = [
        (drawing.on_axis(row.start) + row.days / 2, row.billed_kwh / row.days if by_day else row.excess_kwh)
        for row in result.rows
        if row.excess_kwh is not None
    ]
    places = ax.transData.transform(tops)
    labels = [text for text in ax.texts if text.get_text().startswith(("+", "−"))]
    assert labels
    for text in labels:
        box = text.get_window_extent(canvas.get_renderer())
        assert not [place for place in places if box.contains(*place)]


@pytest.mark.parametrize("figure", [figures.bills_against_bands, figures.excess_by_period], ids=lambda f: f.__name__)
def test_dated_data_of_any_other_plot_lie_over_a_figure(make: Make, figure: Callable[..., Axes]) -> None:
    import pandas as pd
    from matplotlib.dates import date2num

    result = make(12, 8)
    ax = figure(result, Figure().add_subplot())
    first, last = result.rows[0].start, result.rows[-1].end
    assert ax.get_xlim() == (date2num(first), date2num(last))
    daily = pd.Series(20.0, index=pd.date_range(first, last, freq="D"))
    daily.plot(ax=ax, label="laid over")
    line = next(line for line in ax.lines if line.get_label() == "laid over")
    assert list(line.get_xdata(orig=False)) == pytest.approx(list(date2num(daily.index.to_pydatetime())))


def test_a_cause_of_at_least_one_half_stands_among_the_bills_at_its_day(make: Make) -> None:
    result = make(12, 8)
    cause = replace(result.causes[0], probability=0.5, since=result.rows[7].start)
    ax, _ = drawn(figures.bills_against_bands, replace(result, causes=(cause, *result.causes[1:])), 7.2)
    assert any(list(line.get_xdata()) == [drawing.on_axis(cause.since)] * 2 for line in ax.lines)
    assert any("a fast meter, from" in text.get_text() and "about 50 %" in text.get_text() for text in ax.texts)
    assert "Drawn in: a fast meter" in ax.get_label()
    rare = replace(result, causes=(replace(cause, probability=0.49), *result.causes[1:]))
    assert not [t for t in drawn(figures.bills_against_bands, rare, 7.2)[0].texts if "a fast meter" in t.get_text()]


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("code", ["constant-load", "habit-step", "timed-load"])
def test_the_chance_of_a_cause_is_never_cut_away(make: Make, code: str, width: float) -> None:
    result = make(12, 8)
    cause = replace(result.causes[0], code=code, probability=0.999, since=result.rows[4].start)
    ax, _ = drawn(figures.bills_against_bands, replace(result, causes=(cause,)), width)
    assert any(text.get_text().endswith("(over 99 %)") for text in ax.texts)


def test_both_bands_are_drawn_from_their_limits(make: Make) -> None:
    result = make(12, 8)
    ax, _ = drawn(figures.bills_against_bands, result, drawing.WIDE_INCHES)
    inventory, usual = [c for c in ax.collections if isinstance(c, PolyCollection)]
    assert inventory.get_hatch()
    assert not usual.get_hatch()
    first = result.rows[0]
    assert inventory.get_paths()[0].get_extents().ymin == pytest.approx(first.low_kwh / first.days)
    assert usual.get_paths()[0].get_extents().ymax == pytest.approx(first.usual_high_kwh / first.days)
    assert len(usual.get_paths()) == sum(row.usual_kwh is not None for row in result.rows)


def test_the_winning_cause_lies_over_the_excess(make: Make) -> None:
    result = make(12, 8)
    ax, _ = drawn(figures.excess_by_period, result, drawing.WIDE_INCHES)
    diamonds = [line for line in ax.lines if line.get_marker() == "D"]
    assert list(diamonds[0].get_ydata()) == pytest.approx(result.causes[0].pattern_kwh)
    assert any("a fast meter" in text.get_text() for text in ax.texts)


def test_no_pattern_is_laid_over_where_none_is_likeliest(make: Make) -> None:
    result = make(12, 8)
    quiet = make(12, 8, causes=result.causes[2:])
    ax, _ = drawn(figures.excess_by_period, quiet, drawing.WIDE_INCHES)
    assert not [line for line in ax.lines if line.get_marker() == "D"]


def test_loads_are_drawn_as_listed_and_as_heard_and_the_rest_together(make: Make) -> None:
    result = make(12, 30)
    ax, _ = drawn(figures.where_kwh_go, result, drawing.WIDE_INCHES)
    widths = sorted(bar.get_width() for bar in ax.patches)
    assert sum(widths) == pytest.approx(sum(load.expected_kwh + load.reconciled_kwh for load in result.loads))
    assert any("19 other loads together" in text.get_text() for text in ax.texts)


def test_doubt_by_load_shows_every_share(make: Make) -> None:
    result = make(12, 8)
    ax, _ = drawn(figures.doubt_by_load, result, drawing.WIDE_INCHES)
    widths = [bar.get_width() for bar in ax.patches]
    assert sum(widths) == pytest.approx(sum(load.share_of_doubt for load in result.loads))
    assert sum(width < 0.005 for width in widths) <= 1  # what is told as under 1 % stands in one row, not in one each


def test_what_cannot_be_seen_at_any_size_is_a_cross(make: Make) -> None:
    ax, _ = drawn(figures.visible_meter_error, make(12, 8), drawing.WIDE_INCHES)
    crosses = [line for line in ax.lines if line.get_marker() == "x"]
    assert len(crosses[0].get_xdata()) == 1


def test_names_that_no_font_holds_and_dollar_signs_do_not_disturb(make: Make) -> None:
    result = make(12, 2)
    named = replace(result, loads=tuple(replace(load, load="冷蔵庫 $x^2$ \x07 <&>") for load in result.loads))
    page, _ = drawing.svg(lambda: figures.where_kwh_go(named))
    root = ElementTree.fromstring(base64.b64decode(page.partition("base64,")[2]))
    texts = ["".join(node.itertext()) for node in root.iter("{http://www.w3.org/2000/svg}text")]
    assert any("冷蔵庫 $x^2$ <&>" in text for text in texts)


def test_figures_leave_the_window_part_of_matplotlib_alone() -> None:
    code = (
        "import sys; from reconcile import figures; from reconcile.report.drawn import drawing; "
        "import matplotlib.figure; drawing.paper(3.0, 2.0); sys.exit('matplotlib.pyplot' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize("figure", EVERY, ids=lambda f: f.__name__)
def test_what_is_written_stands_out_from_the_paper(make: Make, figure: Callable[..., Axes]) -> None:
    ax, _ = drawn(figure, make(12, 8), drawing.WIDE_INCHES)
    for text in [*ax.texts, *ax.get_xticklabels(), *ax.get_yticklabels()]:
        if text.get_text().strip():
            assert contrast(text.get_color()) >= 4.5, text.get_text()


def test_contrast_is_measured_as_the_standard_has_it() -> None:
    assert contrast("black") == pytest.approx(21.0, abs=1e-9)
    assert contrast("#767676") == pytest.approx(4.54, abs=0.01)  # the lightest grey that passes on white


def test_bands_and_marks_differ_in_grey_print_too() -> None:
    looks = (drawing.USUAL, drawing.LISTED, drawing.OVER, drawing.UNDER, drawing.WITHIN, drawing.OPEN)
    for one, other in combinations(looks, 2):
        apart = abs(luminance(one["facecolor"]) - luminance(other["facecolor"])) >= 0.1
        assert apart or one.get("hatch") != other.get("hatch")


def test_the_one_style_file_is_in_force_and_holds_the_size_of_print(make: Make) -> None:
    ax, _ = drawn(figures.excess_by_period, make(12, 8), drawing.WIDE_INCHES)
    with drawing.settings():
        import matplotlib

        assert matplotlib.rcParams["font.size"] == drawing.PRINT_POINTS
        assert matplotlib.rcParams["svg.hashsalt"] == "reconcile"
    assert {text.get_fontsize() for text in ax.texts} == {drawing.PRINT_POINTS}


@pytest.mark.parametrize("figure", EVERY, ids=lambda f: f.__name__)
def test_lines_and_marks_stand_out_from_the_paper(make: Make, figure: Callable[..., Axes]) -> None:
    ax, _ = drawn(figure, make(12, 8), drawing.WIDE_INCHES)
    for line in ax.lines:
        if line.get_color() not in ("white", drawing.PALE):  # a white line only lifts another off what is behind it
            assert contrast(line.get_color()) >= 3.0, line.get_color()
    for name in ("USUAL", "LISTED", "OVER", "UNDER", "WITHIN", "OPEN"):
        assert contrast(getattr(drawing, name)["edgecolor"]) >= 3.0, name

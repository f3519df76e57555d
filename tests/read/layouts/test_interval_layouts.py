"""One series in every layout comes back to the last watt-hour, or asks one question that can be answered."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from interval_layouts import LAYOUTS, ZONE, Question, make, questions
from interval_layouts_world import NO_AUTUMN, STEPS, WORLD, ZONES, asked
from interval_reading import CHANGES, FIRSTS, read, same

from reconcile.errors import InputError
from reconcile.read.layouts import raw_tables
from reconcile.read.wrappings import interval_files

HOURLY = ("hour ending", "hour ending counted on", "hours from zero")
"""Layouts that can hold whole hours only."""
LOSES_AN_HOUR = (
    *("wide by clock", "wide by clock ends", "wide am and pm", "wide numbered", "wide with a channel"),
    "hour ending",
)
"""Layouts with no place, or no sign, for the hour that the clock repeats."""


def test_there_are_sixty_layouts() -> None:
    assert len(LAYOUTS) >= 60


@pytest.mark.parametrize("name", LAYOUTS)
def test_a_layout_returns_the_same_series(name: str) -> None:
    made = make(1)
    written = LAYOUTS[name](made)
    same(read(written.files, written.toml), made, written)


@pytest.mark.parametrize("name", LAYOUTS)
@given(seed=st.integers(0, 10_000), first=st.sampled_from(FIRSTS), minutes=st.sampled_from((5, 15, 30, 60)))
@settings(max_examples=8, deadline=None)
def test_a_layout_at_other_steps_and_dates(name: str, seed: int, first: datetime, minutes: int) -> None:
    made = make(seed, first=first, step=60 * (60 if name in HOURLY else minutes))
    if name in LOSES_AN_HOUR and first.month == 10:
        return
    if name == "standard time all year" and first.month != 3:
        return  # without the hour that the clock skips nothing tells it from the clock on the wall
    if made.step == 300 and name.startswith("wide"):
        return
    written = LAYOUTS[name](made)
    same(read(written.files, written.toml), made, written)


@pytest.mark.parametrize("name", WORLD)
@given(seed=st.integers(0, 10_000), first=st.sampled_from((*FIRSTS, *CHANGES)), place=st.integers(0, 3))
@settings(max_examples=8, deadline=None)
def test_a_layout_of_another_land(name: str, seed: int, first: datetime, place: int) -> None:
    zone = ZONES.get(name, ZONE)
    minutes = STEPS.get(name, (15, 60, 30, 5))
    made = make(seed, first=first, step=60 * minutes[place % len(minutes)], zone=zone)
    if name in NO_AUTUMN and len({t.utcoffset() for t in made.begins}) > 1 and first.month > 9:
        return
    written = WORLD[name](made)
    same(read(written.files, written.toml, f"[house]\ntimezone = '{zone}'\n"), made, written)


@pytest.mark.parametrize("name", [*LAYOUTS, *WORLD])
def test_a_large_file_is_read_as_a_small_one(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(interval_files, "open_text", partial(raw_tables.open_text, small=2000))
    zone = ZONES.get(name, ZONE)
    made = make(4, zone=zone, days=6, step=60 * (60 if name in HOURLY else STEPS.get(name, (15,))[0]))
    written = {**LAYOUTS, **WORLD}[name](made)
    same(read(written.files, written.toml, f"[house]\ntimezone = '{zone}'\n"), made, written)


@pytest.mark.parametrize("name", questions(make(1)))
def test_what_is_left_open_is_asked_and_answered(name: str) -> None:
    made = make(1)
    question: Question = questions(made)[name]
    with pytest.raises(InputError) as caught:
        read(question.files)
    assert len(caught.value.faults) == 1
    assert question.asks in str(caught.value)
    if question.answer:
        interval = read(question.files, f"[interval]\n{question.answer}\n")
        np.testing.assert_allclose(interval.kwh, made.kwh, rtol=0, atol=5e-7)
    else:
        interval = read(question.files, "[bills]\ndate_format = 'DD/MM/YYYY'\n")
        np.testing.assert_allclose(interval.kwh, made.kwh[:24], rtol=0, atol=5e-7)


@pytest.mark.parametrize("name", asked(make(1)))
def test_every_question_has_an_answer_that_works(name: str) -> None:
    made = make(1)
    question = asked(made)[name]
    with pytest.raises(InputError) as caught:
        read(question.files)
    assert len(caught.value.faults) == 1
    assert question.asks in str(caught.value)
    interval = read(question.other or question.files, question.toml)
    if question.factor:
        np.testing.assert_allclose(interval.kwh, question.added + made.kwh, rtol=0, atol=5e-7)
    else:
        assert interval.kwh.sum() == pytest.approx(60 * 0.03 + 35 * 0.04)


def test_price_periods_are_told(tmp_path: Path) -> None:
    made = make(1)
    told = {one.code for one in read(WORLD["peak and off peak as columns"](made).files).assumed}
    assert "phases" in told


def test_what_is_doubted_is_counted() -> None:
    made = make(1)
    words = ["Actual", "Questionable", "Substituted", "Validated"]
    counted = {a.code: a.count for a in read(WORLD["quality words"](made).files).actions}
    assert counted["estimated"] == sum(words[i % 7 % 4] in words[1:3] for i in range(len(made.kwh)))


def test_a_zero_beside_no_reading_is_left_out() -> None:
    made = make(1)
    rows = [
        f"{t:%Y-%m-%d %H:%M},{0 if i in (5, 6) else v},{'Missing' if i in (5, 6) else 'OK'}"
        for i, (t, v) in enumerate(zip(made.begins, made.kwh, strict=True))
    ]
    interval = read({"interval.csv": "\n".join(["time,kWh,Quality", *rows])})
    assert {a.code: a.count for a in interval.actions} == {"blank": 2}
    np.testing.assert_allclose(interval.kwh, np.delete(made.kwh, [5, 6]))


def test_a_multiplier_beside_the_values_is_told() -> None:
    made = make(1)
    rows = [f"{t:%Y-%m-%d %H:%M},{v},40" for t, v in zip(made.begins, made.kwh, strict=True)]
    interval = read({"interval.csv": "\n".join(["time,kWh,Multiplier", *rows])})
    assert [one.figures["multiplier"] for one in interval.assumed if one.code == "multiplier-beside"] == ["40"]


@pytest.mark.parametrize(
    ("heading", "times"),
    [("reading (0.01 kWh)", 0.01), ("Usage x100 kWh", 100.0), ("usage (10 Wh)", 10.0), ("kWh", 1.0)],
)
def test_a_heading_of_so_many_of_a_unit_multiplies_what_stands_below_it(heading: str, times: float) -> None:
    made = make(1)
    of = times / 1000.0 if heading.endswith("Wh)") and "kWh" not in heading else times
    written = np.round(made.kwh / of) if of < 1.0 else made.kwh / of
    rows = [f"{t:%Y-%m-%d %H:%M},{v:.6f}".rstrip("0").rstrip(".") for t, v in zip(made.begins, written, strict=True)]
    interval = read({"interval.csv": "\n".join([f"time,{heading}", *rows])})
    np.testing.assert_allclose(interval.kwh, written * of, atol=1e-8)
    told = [one.figures["times"] for one in interval.assumed if one.code == "heading-times"]
    assert told == ([] if times == 1.0 else [times])
    fine = [f"{t:%Y-%m-%d %H:%M},{v:.3f}" for t, v in zip(made.begins, made.kwh, strict=True)]
    if times == 0.01:  # the step of its figures, where they have more digits than whole ones of it
        np.testing.assert_allclose(
            read({"interval.csv": "\n".join([f"time,{heading}", *fine])}).kwh, made.kwh, atol=1e-3
        )


def test_one_file_settles_the_dates_of_another() -> None:
    first, last = make(1, first=datetime(2025, 3, 2), days=1), make(2, first=datetime(2025, 3, 13), days=2)
    files = {
        f"interval/{name}.csv": "\n".join(
            ["time,kwh", *(f"{t:%d/%m/%Y %H:%M},{v}" for t, v in zip(made.begins, made.kwh, strict=True))]
        )
        for name, made in (("a", first), ("b", last))
    }
    interval = read(files)
    np.testing.assert_allclose(interval.kwh, np.concatenate([first.kwh, last.kwh]))
    np.testing.assert_array_equal(interval.starts.astype(np.int64), np.concatenate([first.instants, last.instants]))
    with pytest.raises(InputError) as caught:
        read({"interval/a.csv": files["interval/a.csv"]})
    assert "date_format" in str(caught.value)


def test_two_points_of_supply_are_asked_for() -> None:
    made = make(1, step=1800, zone=ZONES["daily records with a header"])
    text = str(WORLD["daily records with a header"](made).files["interval.csv"])
    more = text.replace("6123456789", "6999999999").split("\n", 1)[1]
    with pytest.raises(InputError, match="6123456789, 6999999999"):
        read({"interval.csv": text.replace("900\n", "") + more})
    interval = read({"interval.csv": text.replace("900\n", "") + more}, "[interval]\nchannel = '6123456789'\n")
    np.testing.assert_allclose(interval.kwh, made.kwh)


def test_quality_of_daily_records_is_heard() -> None:
    made = make(1, step=1800, zone=ZONES["daily records with a header"])
    text = str(WORLD["daily records with a header"](made).files["interval.csv"])
    lines = text.splitlines()
    lines[2] = lines[2].replace(",A,,,", ",V,,,")
    lines[2:3] = [lines[2], "400,1,10,A,,", "400,11,20,S53,9,", "400,21,48,N,,"]
    lines[6] = lines[6].replace(",A,,,", ",E52,,,")
    interval = read({"interval.csv": "\n".join(lines)})
    counted = {a.code: a.count for a in interval.actions}
    assert (counted["blank"], counted["estimated"]) == (28, 10 + 48)
    np.testing.assert_allclose(interval.kwh, np.concatenate([made.kwh[:20], made.kwh[48:]]))


def test_watt_hours_taken_for_kilowatt_hours_are_one_question() -> None:
    made = make(1)
    rows = [f"{t:%Y-%m-%d %H:%M},{v * 1000:.0f}" for t, v in zip(made.begins, made.kwh, strict=True)]
    text = "\n".join(["time,usage", *rows]) + "\n"
    with pytest.raises(InputError) as caught:
        read({"interval.csv": text})
    assert len(caught.value.faults) == 1
    assert "unit under [interval]" in str(caught.value)
    np.testing.assert_allclose(
        read({"interval.csv": text}, "[interval]\nunit = 'Wh'\n").kwh, made.kwh, rtol=0, atol=5e-7
    )


@pytest.mark.parametrize("beside", ["kVARh", "Cumulative kWh", "Cost ($)", "Outdoor temperature"])
def test_what_is_no_energy_of_the_interval_is_left_alone(beside: str) -> None:
    made = make(1)
    pairs = zip(made.begins, made.kwh, np.cumsum(made.kwh), strict=True)
    rows = [f"{t:%Y-%m-%d %H:%M},{v:.3f},{x:.3f}" for t, v, x in pairs]
    np.testing.assert_allclose(read({"interval.csv": "\n".join([f"time,kWh,{beside}", *rows])}).kwh, made.kwh)


def test_reactive_energy_in_other_rows_is_left_alone() -> None:
    made = make(1)
    rows = [
        f"{t:%Y-%m-%d %H:%M},{name},{v:.3f}"
        for t, v in zip(made.begins, made.kwh, strict=True)
        for name in ("KWH", "KVARH")
    ]
    np.testing.assert_allclose(read({"interval.csv": "\n".join(["time,channel,value", *rows])}).kwh, made.kwh)

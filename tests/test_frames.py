"""Frames of the answer: real types, one layout for every house, and short words for a house in a notebook."""

from pathlib import Path

import pandas as pd
import pytest

import reconcile
from reconcile.frames import CAUSES, LOADS, PERIODS, STEPS

SAMPLES = Path(__file__).parents[1] / "sample_bills"


@pytest.fixture(scope="module")
def results():
    return [reconcile.reconcile(reconcile.read_house(SAMPLES / name)) for name in ("fast_meter", "fast_meter_checked")]


def test_columns_have_real_types(results):
    frame = results[0].periods
    assert frame["start"].dtype == "datetime64[ns]"
    assert frame["billed_kwh"].dtype == frame["excess_amount"].dtype == "float64"
    assert frame["flag"].dtype == "string"
    assert "object" not in frame.dtypes.astype(str).tolist()
    assert (frame["end"] - frame["start"]).dt.days.sum() == frame["days"].sum()


@pytest.mark.parametrize(
    ("name", "columns"),
    [("periods", PERIODS), ("causes_frame", CAUSES), ("steps_frame", STEPS), ("loads_frame", LOADS)],
)
def test_frames_of_many_houses_join(results, name, columns):
    frames = [getattr(result, name) for result in results]
    both = pd.concat(frames, ignore_index=True)
    assert list(both.columns) == ["house", *columns]
    assert len(both) == sum(map(len, frames)) > 0
    assert list(both.dtypes) == list(frames[0].dtypes)
    assert set(both["house"]) == {result.house.name for result in results}


def test_an_empty_frame_has_the_same_types(results):
    from reconcile.frames import _frame

    empty = _frame([], [], PERIODS)
    assert list(empty.dtypes) == list(results[0].periods.dtypes)


def test_frames_say_what_the_answer_says(results):
    result = results[0]
    assert result.periods["billed_kwh"].tolist() == [row.billed_kwh for row in result.rows]
    assert result.causes_frame["probability"].tolist() == [cause.probability for cause in result.causes]
    assert result.steps_frame["text"].tolist() == [step.text for step in result.verdict.next_steps]


def test_a_house_and_an_answer_are_short_in_words(results):
    for one in (results[0], results[0].house):
        assert len(repr(one)) < 200
        assert results[0].house.name in repr(one)

"""Frames of the answer: real types, one layout for every house, and short words for a house in a notebook."""

import json
from pathlib import Path

import pandas as pd
import pytest

import reconcile
from reconcile.errors import CrashError, InputError
from reconcile.frame_rows import CAUSES, FRAMES, LOADS, PERIODS, STEPS, framed
from reconcile.frames import houses, of_results

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
    empty = framed([], "periods")
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


ANSWERS = sorted(path.parent.name for path in SAMPLES.glob("*/bills.csv"))


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """The answers to the samples, and the folders they were kept in."""
    place, answers = tmp_path_factory.mktemp("answers"), {}
    for name in ANSWERS:
        answers[name] = reconcile.reconcile(reconcile.read_house(SAMPLES / name))
        (place / name).mkdir()
        (place / name / "result.json").write_text(json.dumps(answers[name].to_dict()), encoding="utf-8")
    return place, answers


@pytest.mark.parametrize("frame", [name for name in FRAMES if name != "houses"])
def test_a_frame_of_kept_answers_is_that_of_the_answers(kept, frame):
    place, answers = kept
    made = of_results(sorted(place.rglob("result.json")), frame)
    whole = pd.concat([getattr(one, frame) for one in answers.values()], ignore_index=True)
    pd.testing.assert_frame_equal(made, whole, check_exact=True)
    few = of_results(sorted(place.iterdir()), frame, at_once=3)
    pd.testing.assert_frame_equal(few, made, check_exact=True)


def test_the_houses_of_kept_answers_are_those_of_the_answers(kept):
    place, answers = kept
    by_name = {name: place / name for name in ANSWERS}
    pd.testing.assert_frame_equal(of_results(by_name), houses(answers), check_exact=True)
    own = of_results(place / name for name in ANSWERS)
    assert own.house.tolist() == [one.house.name for one in answers.values()]
    assert of_results([]).dtypes.to_dict() == own.dtypes.to_dict() == houses([]).dtypes.to_dict()


def test_the_money_of_a_bill_stands_in_the_dictionary(kept):
    _, answers = kept
    made = answers["fast_meter"]
    told = [(row["billed_amount"], row["recomputed_amount"]) for row in made.to_dict()["periods"]]
    assert told == list(zip(made.periods.billed_amount, made.periods.recomputed_amount, strict=True))
    assert (
        [one["rule"] for one in made.to_dict()["money"]["supposed"]]
        == made.money_frame[made.money_frame.part == "supposed"].code.tolist()
        != []
    )


def test_a_file_that_holds_no_answer_is_named_and_loses_none_of_the_others(kept, tmp_path):
    place, _ = kept
    good = json.loads((place / "all_well" / "result.json").read_text())
    wrong = {
        "torn": json.dumps(good)[:700],
        "empty": "",
        "list": "[]",
        "other": json.dumps({**good, "schema": "reconcile/9"}),
        "short": json.dumps({"schema": "reconcile/1", "house": "x"}),
        "text": json.dumps({**good, "verdict": {**good["verdict"], "meter_fast_probability": "half"}}),
        "deep": "[" * 100_000,
        "binary": "\x00\ud800",
    }
    for name, text in wrong.items():
        (tmp_path / name).mkdir()
        (tmp_path / name / "result.json").write_bytes(text.encode("utf-8", "surrogatepass"))
    paths = [tmp_path / name for name in wrong] + [tmp_path / "nowhere", place / "all_well"]
    table = of_results(paths)
    assert table.house.tolist() == [*map(str, paths[:-1]), good["house"]]
    assert [len(faults) for faults in table.faults] == [1] * 9 + [0]
    assert table.decision.notna().tolist() == [False] * 9 + [True]
    with pytest.raises(InputError) as caught:
        of_results(paths, "periods")
    assert len(caught.value.faults) == 8  # the one of a wrong chance has periods that are right
    assert "it cannot be read" in str(caught.value)


@pytest.mark.parametrize("wrong", ["answers", Path("answers"), b"answers"])
def test_one_path_is_no_list_of_them(wrong):
    with pytest.raises(TypeError, match=r"rglob\('result.json'\)"):
        of_results(wrong)
    with pytest.raises(ValueError, match="there is no frame 'bills'; there are periods"):
        of_results([], "bills")


def test_answers_kept_before_a_key_was_added_are_read(kept, tmp_path):
    place, _ = kept
    old = json.loads((place / "fast_meter" / "result.json").read_text())
    for row in old["periods"]:
        del row["billed_amount"], row["recomputed_amount"]
    del old["money"]["short"], old["money"]["supposed"]
    (tmp_path / "result.json").write_text(json.dumps(old))
    assert of_results([tmp_path], "periods").billed_amount.isna().all()
    assert set(of_results([tmp_path], "money_frame").part) == {"disputed", "bridge"}


def test_a_crash_is_a_row_too(results):
    from reconcile.errors import Fault

    table = houses({"a": results[0], "b": CrashError([Fault("the program", "it failed", "Report it.", house="b")])})
    assert table.faults.tolist() == [[], ["b, the program: it failed. Report it."]]

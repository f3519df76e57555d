"""The library as somebody meets it: names within reach, values that stay, wrong arguments told all at once."""

from __future__ import annotations

import json
import pickle
import re
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import cache, partial
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pandas as pd
import pytest

import reconcile
from reconcile.frames import Frames, houses
from reconcile.house import House, Interval, Weather
from reconcile.house.keywords import BandSettings, HouseSettings, MeterSettings, SiteSettings
from reconcile.kinds import KINDS, CauseCode
from reconcile.read.household import settings as keys

SAMPLES = Path(__file__).parents[1] / "sample_bills"
DAYS = pd.to_datetime(["2025-01-11", "2025-02-12", "2025-03-12"])
BILLS = pd.DataFrame({"start": DAYS[:-1], "end": DAYS[1:], "kwh": [600.0, 580.0]})


@cache
def answer(name: str) -> reconcile.Reconciliation:
    return reconcile.reconcile(reconcile.read_house(SAMPLES / name))


def test_one_refused_house_loses_none_of_the_others() -> None:
    bad = BILLS.assign(kwh=[600.0, None])
    given = {
        "north": SAMPLES / "all_well",
        "south": partial(House.from_frames, bad),
        "east": SAMPLES / "no_such_house",
        "west": House.from_frames(BILLS),
    }
    outcomes = dict(reconcile.reconcile_many(given))
    assert list(outcomes) == list(given)
    refused = outcomes["south"]
    assert isinstance(refused, reconcile.InputError)
    assert [fault.house for fault in refused.faults] == ["south"]
    assert str(refused).startswith("south, bills frame, row 1, column kwh: nothing is written here")
    assert pickle.loads(pickle.dumps(refused)).faults == refused.faults
    north = outcomes["north"]
    assert isinstance(north, reconcile.Reconciliation)
    assert set(north.periods.house) == {"north"}
    table = houses(outcomes).set_index("house")
    assert table.decision.isna().tolist() == [False, True, True, False]
    assert table.loc["south", "faults"] == [str(fault) for fault in refused.faults]
    assert table.loc["north", "faults"] == []
    assert pd.isna(table.loc["south", "bills"])
    assert houses(outcomes).dtypes.to_dict() == houses([]).dtypes.to_dict()


def test_many_houses_by_an_executor_and_by_their_paths() -> None:
    paths = [SAMPLES / name for name in ("all_well", "bills_only")]
    alone = dict(reconcile.reconcile_many(paths, odds={"swap": 2.0}))
    with ThreadPoolExecutor(2) as workers:
        spread = dict(reconcile.reconcile_many(paths, executor=workers, odds={"swap": 2.0}))
    assert list(alone) == list(spread) == ["all_well", "bills_only"]
    for name, one in alone.items():
        assert isinstance(one, reconcile.Reconciliation)
        assert one.to_dict() == spread[name].to_dict()
        assert one.to_dict()["odds"] == {"swap": 2.0}


def test_two_folders_of_one_name_are_told_apart(tmp_path: Path) -> None:
    for street in ("a", "b"):
        (tmp_path / street / "house").mkdir(parents=True)
        BILLS.to_csv(tmp_path / street / "house" / "bills.csv", index=False)
    names = [name for name, _ in reconcile.reconcile_many(tmp_path / street / "house" for street in ("a", "b"))]
    assert names == [str(tmp_path / street / "house") for street in ("a", "b")]


def test_houses_takes_answers_in_any_form_and_tells_what_is_none() -> None:
    one = answer("all_well")
    assert len(houses(one)) == len(houses([one])) == len(houses({"x": one})) == 1  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="'x' is NoneType"):
        houses({"x": None})
    with pytest.raises(TypeError, match="'number 1' is int"):
        houses([one, 1])  # type: ignore[list-item]
    with pytest.warns(UserWarning, match="several houses have the name"):
        houses([one, one])


def test_a_row_of_a_house_tells_what_it_rests_on() -> None:
    row = houses([answer("fast_meter")]).iloc[0]
    result = answer("fast_meter")
    causes = sorted((c for c in result.causes if c.code != "none"), key=lambda cause: -cause.probability)
    assert (row.cause, row.second_cause) == (causes[0].code, causes[1].code)
    assert row.second_cause_probability == causes[1].probability
    assert row.finding_codes == [finding.code for finding in result.findings]
    assert row.steps == [step.code for step in result.verdict.next_steps]
    assert result.verdict.meters_disagree_probability is not None
    assert row.meters_disagree_probability >= row.meter_fast_probability
    assert row.price_amount == float(result.money.bridge.parts["price"])  # type: ignore[union-attr]
    assert result.to_dict()["verdict"]["meters_disagree_probability"] == row.meters_disagree_probability


def described(doc: str | None) -> dict[str, str | None]:
    """Columns that a docstring describes, in its order, and their units."""
    told: dict[str, str | None] = {}
    for line in re.findall(r"^ *- (``.*)$", doc or "", re.M):
        waiting: list[str] = []
        for column, unit in re.findall(r"``(\w+)``|\[([^\]]+)\](?=[:,])", line.partition(": ")[0] + ":"):
            if column:
                assert column not in told
                told[column] = None
                waiting.append(column)
            else:
                told.update(dict.fromkeys(waiting, unit))
                waiting = []
    return told


UNITS = {
    "kwh": "kWh",
    "days": "d",
    "probability": "0 to 1",
    "share_of_doubt": "0 to 1",
    "amount": "currency",
    "percent": "%",
    "watts": "W",
    "minutes": "min",
    "size": "unit",
    "worth": "costs",
}
"""What the name of a column of numbers says of its unit."""


def unit_of(column: str) -> str | None:
    return next((unit for name, unit in UNITS.items() if name in column.split("_") or name == column), None)


def test_every_frame_describes_every_column_with_its_unit() -> None:
    frames = {name: value for name, value in vars(Frames).items() if isinstance(value, property)}
    assert len(frames) == 9
    made = {name: (getattr(answer("mistyped_bill"), name), value.__doc__) for name, value in frames.items()}
    made["summary"] = (answer("mistyped_bill").summary(), reconcile.Reconciliation.summary.__doc__)
    made["houses"] = (houses([answer("mistyped_bill")]), houses.__doc__)
    for name, (frame, doc) in made.items():
        told = described(doc)
        assert sorted(told) == sorted(frame.columns), name
        for column, unit in told.items():
            counted = "Int64" in str(frame[column].dtype) or column in ("order", "period", "missing_intervals")
            assert unit == unit_of(column), f"{name}: {column}"
            assert unit is not None or counted or frame[column].dtype.kind != "f", f"{name}: {column}"


def kinds_in(value: Any, at: str = "") -> Iterator[tuple[str, type]]:
    if type(value) is dict:
        assert all(type(key) is str for key in value), at
        for key, item in value.items():
            yield from kinds_in(item, f"{at}/{key}")
    elif type(value) is list:
        for item in value:
            yield from kinds_in(item, f"{at}[]")
    elif type(value) not in (str, int, float, bool, type(None)):
        yield at, type(value)


@pytest.mark.parametrize("name", sorted(path.parent.name for path in SAMPLES.glob("*/bills.csv")))
def test_the_dictionary_holds_plain_values_only(name: str) -> None:
    """No enum, no numpy, no tuple: what writes YAML or asks ``type(x) is str`` takes it too."""
    assert set(kinds_in(answer(name).to_dict())) == set()
    assert json.loads(json.dumps(answer(name).to_dict(), allow_nan=False)) == answer(name).to_dict()


def test_money_what_could_hide_what_to_measure_and_the_tie_out() -> None:
    fast, tied = answer("fast_meter"), answer("mistyped_bill")
    money = fast.money_frame
    disputed = money[money.part == "disputed"].set_index("code")
    assert disputed.amount.to_dict() == {
        code: stake["amount"] for code, stake in fast.to_dict()["money"]["disputed"].items()
    }
    bridge = fast.to_dict()["money"]["bridge"]
    parts = money[money.part == "bridge"].set_index("code")
    assert parts.amount.to_dict() == bridge["parts"]
    assert parts.periods.tolist() == [bridge["to_periods"]] * len(parts)
    assert money[money.part == "supposed"].amount.notna().all()
    assert fast.visible is not None
    assert fast.visible_frame.meter_percent.dropna().tolist() == [
        x for x in fast.visible.meter_percent if x is not None
    ]
    assert fast.visible_frame.start.tolist() == fast.periods.start.tolist()
    assert fast.measures_frame.load.tolist() == [one.load for one in fast.measures]
    ties = tied.tie_out_frame
    assert ties.interval_kwh.tolist() == [tie["interval_kwh"] for tie in tied.to_dict()["interval"]["tie_out"]]
    assert (ties.start == tied.periods.start).all()
    assert fast.tie_out_frame.dtypes.to_dict() == ties.dtypes.to_dict()


def test_periods_carry_their_number_and_lists_are_lists() -> None:
    result = answer("estimated_read")
    assert result.periods.period.tolist() == list(range(len(result.rows)))
    findings = result.findings_frame
    assert findings.periods.tolist() == [list(finding.periods) for finding in result.findings]
    long = findings.explode("periods").merge(result.periods, left_on=["house", "periods"], right_on=["house", "period"])
    assert len(long) == sum(len(finding.periods) for finding in result.findings)
    assert result.periods.billed_amount.notna().all()


def test_the_dictionary_says_what_the_answer_rests_on() -> None:
    house = House.from_frames(BILLS, band={"coverage": 0.6})
    said = reconcile.reconcile(house, odds={"meter-step": np.int64(3)}).to_dict()
    assert (said["odds"], said["coverage"], said["version"]) == ({"meter-step": 3.0}, 0.6, reconcile.__version__)
    assert answer("all_well").to_dict()["odds"] == {}


def test_what_a_house_holds_cannot_be_written_to() -> None:
    hours = pd.date_range("2025-01-11", periods=24 * 40, freq="h", tz="America/Chicago")
    own = np.full(60, 3.0)
    house = House.from_frames(
        BILLS,
        weather=Weather(DAYS[0].date(), own),
        interval=pd.Series(1.0 + np.arange(len(hours)) % 7 / 9, index=hours),
    )
    for one in (house, pickle.loads(pickle.dumps(house)), replace(house)):
        assert one.weather is not None
        assert one.interval is not None
        for values in (one.weather.mean_c, one.interval.kwh, one.interval.starts, one.interval.segments[0].kwh):
            with pytest.raises(ValueError, match="read-only"):
                values[:] = values[:1]
        assert one == house
    own[:] = 99.0
    assert house.weather is not None
    assert float(house.weather.mean_c.max()) == 3.0


def test_short_words_for_weather_and_intervals() -> None:
    tied = reconcile.read_house(SAMPLES / "mistyped_bill")
    assert len(repr(tied.interval)) < 120
    assert "readings of" in repr(tied.interval)
    assert len(repr(tied.weather)) < 80
    assert repr(Interval(np.array([], "datetime64[s]"), np.array([]), 900)).startswith("<Interval: 0 readings")


def test_what_is_returned_is_short_in_words() -> None:
    tied, checked = answer("mistyped_bill"), reconcile.read_house(SAMPLES / "fast_meter_checked")
    made = (tied.money, tied.interval, reconcile.plan_test(tied), reconcile.judge_test(checked))
    for one in (*made, reconcile.estimate(checked)):
        assert repr(one).startswith(f"<{type(one).__name__}")
        assert len(repr(one)) < 130


def test_costs_by_name_and_every_wrong_one_at_once() -> None:
    house = reconcile.read_house(SAMPLES / "bills_only")
    by_name = reconcile.reconcile(house, costs={"needless_test": np.int64(300)})
    assert by_name.costs == reconcile.Costs(needless_test=300.0)
    assert by_name.to_dict()["costs"]["needless_test"] == 300.0
    with pytest.raises(ValueError, match=r"needless_test takes .* not -1\.0; call takes .* not nan"):
        reconcile.Costs(needless_test=-1.0, call=float("nan"))
    wrong: Any
    for wrong, says in (
        ({"needless_tests": 3.0, "call": "a"}, r"call takes .* not 'a'; 'needless_tests' is no cost \(did you mean"),
        ({"zzz": 3.0}, "^costs: 'zzz' is no cost. The costs are minute, hazard"),
        (3.0, "a mapping of names to numbers"),
    ):
        with pytest.raises(ValueError, match=says):
            reconcile.reconcile(house, costs=wrong)
    for wrong in ({"hazard": 0.0}, {"hazard": (0.0, 1.0)}, {"wasted_look": "a"}, {"minute": True}):
        with pytest.raises(ValueError, match=f"{next(iter(wrong))} takes"):
            reconcile.Costs(**wrong)


def test_one_table_of_priors_by_the_codes_that_odds_take() -> None:
    priors = reconcile.priors()
    assert set(priors) == {kind.code for kind in KINDS.values()} == set(get_args(CauseCode))
    assert all(0.0 < chance < 0.2 for chance in priors.values())
    house = reconcile.read_house(SAMPLES / "bills_only")
    reconcile.reconcile(house, odds=dict.fromkeys(get_args(CauseCode), 1.5))


def test_the_typed_keywords_are_the_keys_of_the_settings() -> None:
    tables = {"tariff", "site", "meter", "band", "dangers", "events", "readings", "charges"}
    assert set(HouseSettings.__annotations__) == {*keys.HOUSE, *keys.BILLS} | tables
    assert set(MeterSettings.__annotations__) == set(keys.METER)
    assert set(BandSettings.__annotations__) == set(keys.BAND)
    assert set(SiteSettings.__annotations__) == set(keys.SITE)


@pytest.mark.parametrize("name", ["frames", "figures"])
@pytest.mark.parametrize("way", ["import reconcile", "import reconcile.{0}", "from reconcile import {0}"])
def test_modules_are_within_reach(name: str, way: str) -> None:
    script = f"{way.format(name)}; import reconcile; print(reconcile.{name}.__name__)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip().endswith(name)
    assert {"Bill", "Load", "Weather", "Interval", "frames", "figures", "priors"} <= set(dir(reconcile))


def test_the_order_of_two_bills_that_contradict_each_other_decides_nothing() -> None:
    sample = SAMPLES / "fast_meter"
    bills = pd.read_csv(sample / "bills.csv")
    twice = pd.concat([bills, bills.iloc[[5]].assign(kwh=99.0, amount=20.0)], ignore_index=True)
    made = [reconcile.reconcile(House.from_frames(rows, name="x")) for rows in (twice, twice.iloc[::-1])]
    first, second = (one.to_dict() for one in made)
    for key in ("causes", "verdict", "loads", "findings", "visible"):
        assert first[key] == second[key], key
    judged = [one.periods[one.periods.flag != "not-judged"].drop(columns="period") for one in made]
    pd.testing.assert_frame_equal(*(frame.reset_index(drop=True) for frame in judged), check_exact=True)
    assert len(judged[0]) == len(bills) - 1
    assert made[0].periods.why_not_judged.dropna().str.contains("same dates and other kWh").all()

from __future__ import annotations

import copy
import itertools
import json
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import make_schema
import pytest
from extreme import extreme_house

import reconcile
from reconcile.answer import reconcile as weigh
from reconcile.read import read_house
from reconcile.report.save import save
from reconcile.result import Reconciliation, plain

ROOT = Path(__file__).parents[2]
SCHEMA = reconcile.schema()
VALID = jsonschema.Draft202012Validator(SCHEMA)
SAMPLES = sorted(
    path for path in (ROOT / "sample_bills").iterdir() if (path / "bills.csv").exists() or path.suffix == ".xlsx"
)
Make = Callable[..., Reconciliation]


def refuse(name: str) -> float:
    raise AssertionError(f"{name} is not JSON")


def written(result: Reconciliation, folder: Path) -> Any:
    text = save(result, folder)[2].read_text(encoding="utf-8")
    return json.loads(text, parse_constant=refuse)


def wrong(data: Any) -> list[str]:
    return [f"{error.json_path}: {error.message[:90]}" for error in VALID.iter_errors(data)]


@pytest.mark.parametrize("house", SAMPLES, ids=lambda path: path.name)
def test_result_json_is_as_the_schema_says(house: Path) -> None:
    data = json.loads(json.dumps(weigh(read_house(house)).to_dict(), allow_nan=False))
    assert not wrong(data)
    assert len(data["verdict"]["steps"]) == len(data["verdict"]["next_steps"])
    for index in [i for finding in data["findings"] for i in finding["periods"]]:
        assert index < len(data["periods"])


@pytest.mark.parametrize(("periods", "loads"), [(1, 0), (3, 3), (60, 30)])
def test_made_answers_are_too(make: Make, periods: int, loads: int, tmp_path: Path) -> None:
    data = written(make(periods, loads), tmp_path)
    for step in data["verdict"]["steps"]:
        step["code"] = step["code"] or "made-by-hand"
    assert not wrong(data)


@pytest.mark.parametrize("seed", range(500, 516))
def test_extreme_answers_are_too(seed: int, tmp_path: Path) -> None:
    for name, text in extreme_house(seed).items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    try:
        result = weigh(read_house(tmp_path))
    except reconcile.InputError:
        return
    assert not wrong(json.loads(json.dumps(plain(result.to_dict()), allow_nan=False)))


@pytest.mark.parametrize("number", range(5))
def test_answers_from_interval_data_are_too(number: int) -> None:
    house = next(itertools.islice(make_schema.metered_houses(seed=26), number, None))
    assert not wrong(json.loads(json.dumps(plain(weigh(house).to_dict()), allow_nan=False)))


def test_nothing_of_the_interval_data_is_left_without_a_shape() -> None:
    inside = json.dumps(SCHEMA["properties"]["interval"])
    assert "{}" not in inside


def objects(schema: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    if isinstance(schema, dict):
        if schema.get("type") == "object" and "properties" in schema:
            yield path, schema
        for key, value in schema.items():
            yield from objects(value, f"{path}/{key}")
    elif isinstance(schema, list):
        for value in schema:
            yield from objects(value, path)


def test_the_schema_itself_is_sound_and_lets_no_key_stand_beside_its_own() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    found = list(objects(SCHEMA))
    assert len(found) > 20
    assert [path for path, schema in found if schema["additionalProperties"] is not False] == []


def places(data: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every dictionary of an answer that has named fields, by its path; one of each list."""
    if isinstance(data, dict):
        if not {*map(str, path)} & set(make_schema.MAPS):
            yield path
        for key, value in data.items():
            yield from places(value, (*path, key))
    elif isinstance(data, list) and data:
        yield from places(data[0], (*path, 0))


def at(data: Any, path: tuple[Any, ...]) -> Any:
    for key in path:
        data = data[key]
    return data


def test_an_unknown_key_is_refused_wherever_it_stands_and_a_missing_one_too() -> None:
    data = json.loads(json.dumps(plain(weigh(read_house(ROOT / "sample_bills" / "fast_meter_checked")).to_dict())))
    assert not wrong(data)
    tried = 0
    for path in places(data):
        changed = copy.deepcopy(data)
        at(changed, path)["not_a_key"] = 1
        assert wrong(changed), path
        for key in ("code", "flag", "text", "periods", "decision", "probability", "zone"):
            if key in at(data, path):
                changed = copy.deepcopy(data)
                del at(changed, path)[key]
                assert wrong(changed), (path, key)
        tried += 1
    assert tried > 15


NEGATIVES: list[tuple[tuple[Any, ...], Any]] = [
    (("schema",), "reconcile/2"),
    (("currency",), "dollars"),
    (("periods",), {}),
    (("verdict",), {}),
    (("money",), {}),
    (("periods", 0, "start"), "7 March 2025"),
    (("periods", 0, "days"), 0),
    (("periods", 0, "days"), 30.5),
    (("periods", 0, "billed_kwh"), "912"),
    (("periods", 0, "flag"), "high"),
    (("periods", 0, "part_of"), -1),
    (("causes", 0, "probability"), 1.2),
    (("causes", 0, "probability"), -0.1),
    (("causes", 0, "code"), "gremlins"),
    (("causes", 0, "unit"), "BTU"),
    (("causes", 0, "since"), "May"),
    (("causes", 0, "text"), ""),
    (("verdict", "decision"), "panic"),
    (("verdict", "headline"), ""),
    (("verdict", "field_test_warranted"), "yes"),
    (("verdict", "meter_fast_probability"), 73),
    (("verdict", "steps", 0, "hazard"), 9),
    (("verdict", "steps", 0, "minutes"), -5),
    (("verdict", "smallest_visible_meter_error_percent"), -4.0),
    (("loads", 0, "share_of_doubt"), 2.0),
    (("loads", 0, "load"), 5),
    (("money", "recomputed", 0, "period"), -1),
    (("field_test", "runs", 0, "zone"), "fast"),
    (("field_test", "runs", 0, "expanded_percent"), -1.0),
    (("notices",), "none"),
    (("over_confident",), None),
]


@pytest.mark.parametrize("path", NEGATIVES, ids=lambda pair: f"{'.'.join(map(str, pair[0]))}={pair[1]!r}"[:60])
def test_a_wrong_value_is_refused(path: tuple[tuple[Any, ...], Any]) -> None:
    (*above, key), value = path[0], path[1]
    data = copy.deepcopy(_checked())
    at(data, tuple(above))[key] = value
    assert wrong(data)


@cache
def _checked() -> Any:
    result = weigh(read_house(ROOT / "sample_bills" / "fast_meter_checked"))
    return json.loads(json.dumps(plain(result.to_dict())))

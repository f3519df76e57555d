from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from reconcile.answer import reconcile
from reconcile.read import read_house
from reconcile.report.save import save
from reconcile.result import Reconciliation

ROOT = Path(__file__).parents[2]
SCHEMA = json.loads((ROOT / "tests" / "data" / "result.schema.json").read_text(encoding="utf-8"))
SAMPLES = sorted(
    path for path in (ROOT / "sample_bills").iterdir() if (path / "bills.csv").exists() or path.suffix == ".xlsx"
)
DECISIONS = {
    "urgent", "explained", "paperwork", "inventory", "outside-check", "field-test", "not-enough-data",
}  # fmt: skip
Make = Callable[..., Reconciliation]


def refuse(name: str) -> float:
    raise AssertionError(f"{name} is not JSON")


def written(result: Reconciliation, folder: Path) -> Any:
    text = save(result, folder)[2].read_text(encoding="utf-8")
    return json.loads(text, parse_constant=refuse)


@pytest.mark.parametrize("house", SAMPLES, ids=lambda path: path.name)
def test_result_json_is_as_the_schema_says(house: Path, tmp_path: Path) -> None:
    data = written(reconcile(read_house(house)), tmp_path)
    jsonschema.validate(data, SCHEMA)
    assert data["verdict"]["decision"] in DECISIONS
    assert len(data["verdict"]["steps"]) == len(data["verdict"]["next_steps"])
    for index in [i for finding in data["findings"] for i in finding["periods"]]:
        assert index < len(data["periods"])


@pytest.mark.parametrize(("periods", "loads"), [(1, 0), (3, 3), (60, 30)])
def test_made_answers_are_too(make: Make, periods: int, loads: int, tmp_path: Path) -> None:
    jsonschema.validate(written(make(periods, loads), tmp_path), SCHEMA)


@pytest.mark.parametrize(
    ("key", "wrong"),
    [("schema", "reconcile/2"), ("periods", {}), ("verdict", {}), ("currency", "dollars"), ("money", {})],
)
def test_the_schema_refuses_what_is_not_so(make: Make, key: str, wrong: object) -> None:
    data = make().to_dict()
    data[key] = wrong
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, SCHEMA)


def test_the_schema_itself_is_sound() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)

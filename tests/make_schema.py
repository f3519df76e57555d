"""Write the schema of ``result.json`` anew: ``python tests/make_schema.py``, after a key was added to the answer.

The shape (keys, types, what may be null) is taken from many answers, sample houses and extreme ones, and from the types
of the dataclasses they are made of; ranges and lists of codes are declared below. No key beside those is allowed. The
lists of codes may grow, as the contract says: by running this again.
"""

from __future__ import annotations

import dataclasses
import importlib
import json
import pkgutil
import re
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parent)]

import data_homes
import numpy as np
import switching_homes as homes
from extreme import extreme_house

import reconcile
from reconcile.answer import reconcile as weigh
from reconcile.costs import Costs
from reconcile.house import Event, House, Load
from reconcile.house.site import Branch, FieldTest, IntervalRun
from reconcile.kinds import Decision, Flag
from reconcile.read import read_house
from reconcile.result import SCHEMA, plain
from reconcile.texts.cause_words import NAMES as CAUSE_NAMES

ROOT = Path(__file__).parents[1]
TARGET = ROOT / "reconcile" / "result.schema.json"
SEEDS = range(2000, 2060)
"""Extreme houses whose answers show what may be missing."""

DATE = r"^\d{4}-\d{2}-\d{2}$"
MAPS = ("figures", "odds", "disputed", "short", "average_registration_percent", "instruments")
"""Objects whose keys are names, not fields."""
ALIKE = {"short": "disputed"}
"""Objects made of the same parts as another, which samples show more often."""
CODE = r"^[a-z0-9]+([-/_][a-z0-9]+)*$"
CHANCE = {"type": "number", "minimum": 0, "maximum": 1}
COUNT = {"type": "integer", "minimum": 0}
POSITIVE = {"type": "number", "minimum": 0}
RULES: dict[str, dict[str, Any]] = {
    "schema": {"const": SCHEMA},
    "currency": {"type": "string", "pattern": "^[A-Z]{3}$"},
    "flag": {"enum": sorted(str(flag) for flag in Flag)},
    "decision": {"enum": sorted(str(decision) for decision in Decision)},
    "cause.code": {"enum": sorted(CAUSE_NAMES)},
    "cause.unit": {"enum": ["%", "W", "kWh", ""]},
    "hazard": {"type": "integer", "minimum": 0, "maximum": 5},
    "probability": CHANCE,
    "meter_fast_probability": CHANCE,
    "meter_slow_probability": CHANCE,
    "meters_disagree_probability": CHANCE,
    "coverage": CHANCE,
    "missing_intervals": COUNT,
    "share_of_doubt": CHANCE,
    "chance_outside": CHANCE,
    "stated_risk": CHANCE,
    "period.days": {"type": "integer", "minimum": 1, "maximum": 801},
    "minutes": COUNT,
    "count": COUNT,
    "bills": COUNT,
    "period": COUNT,
    "part_of": COUNT,
    "readings": COUNT,
    "periods[]": COUNT,
    "from_periods[]": COUNT,
    "to_periods[]": COUNT,
    "onset[]": COUNT,
    "tied_with[]": COUNT,
    "step_minutes": {"type": "number", "exclusiveMinimum": 0},
    "smallest_visible_meter_error_percent": POSITIVE,
    "smallest_visible_constant_watts": POSITIVE,
    "could_hide.percent": {"type": ["number", "null"], "minimum": 0},
    "could_hide.by": {"enum": ["bills", "run", "steps"]},
    "more_percent": POSITIVE,
    "of_use_percent": POSITIVE,
    "doubt_percent_after": POSITIVE,
    "doubt_scale": POSITIVE,
    "expanded_percent": POSITIVE,
    "standard_percent": POSITIVE,
    "zone": {"enum": ["inside", "outside", "cannot-tell"]},
    "worth": POSITIVE,
    "step.text": {"type": "string", "minLength": 1},
    "cause.text": {"type": "string", "minLength": 1},
    "finding.text": {"type": "string", "minLength": 1},
    "under.amount": {"type": ["number", "null"]},
    **{f"short{{}}.{key}": {"type": ["number", "null"]} for key in ("amount", "amount_low", "amount_high")},
    "kwh_a_month": {"type": ["number", "null"]},
    "cost_a_month": {"type": ["number", "null"]},
    "cases[]": {"type": "string"},
    "line.billed": {"type": ["number", "null"]},
    "interval.ratio": {"type": ["number", "null"]},
    "clock_load.days_a_week": {"type": ["number", "null"]},
    "run.day": {"type": ["string", "null"], "pattern": DATE},
    "circuit.day": {"type": ["string", "null"], "pattern": DATE},
    "branch.day": {"type": ["string", "null"], "pattern": DATE},
    "main_off.day": {"type": ["string", "null"], "pattern": DATE},
    "fits[]": {"type": "string"},
    "leg_watts[]": {"type": "number"},
    "dangers[]": {"type": "string"},
    "cautions[]": {"type": "string"},
    "meter_open[]": {"type": "string"},
    "headline": {"type": "string", "minLength": 1},
}
"""By key, or by what holds it and the key: what its values keep to."""
NAMED_LATER = ("reconcile.result", "reconcile.facts", "reconcile.money", "reconcile.interval", "reconcile.meter")


def answers() -> Iterator[dict[str, Any]]:
    """Give the answers to the sample houses, one of them at other odds and costs, and to extreme ones."""
    other = read_house(ROOT / "sample_bills" / "fast_meter")
    yield json.loads(
        json.dumps(plain(weigh(other, odds={"meter-step": 3.0}, costs=Costs(call=20.0)).to_dict()), allow_nan=False)
    )
    searched = (Branch("7 shed", 300.0, True, date(2025, 6, 20)), Branch("9 bath", 0.0))
    for one in ((), searched[:1], searched):
        made = weigh(replace(other, field_test=FieldTest(branches=one)))
        yield json.loads(json.dumps(plain(made.to_dict()), allow_nan=False))
    for house in sorted((ROOT / "sample_bills").iterdir()):
        if (house / "bills.csv").exists():
            yield json.loads(json.dumps(plain(weigh(read_house(house)).to_dict()), allow_nan=False))
    for metered in metered_houses():
        yield json.loads(json.dumps(plain(weigh(metered).to_dict()), allow_nan=False))
    for seed in SEEDS:
        with tempfile.TemporaryDirectory() as place:
            for name, text in extreme_house(seed).items():
                Path(place, name).write_text(text, encoding="utf-8")
            try:
                made = weigh(read_house(place))
            except reconcile.InputError:
                continue
            yield json.loads(json.dumps(plain(made.to_dict()), allow_nan=False))


def metered_houses(seed: int = 21) -> Iterator[House]:
    """Give simulated houses whose interval data show what no sample does: a timer, a load, more heat, known watts."""
    made, since = homes.home(seed, data_homes.DAYS), 260
    yield data_homes.billed(homes.with_timed(made, 1000.0, (22.0, 4.0), since), loads=data_homes.listed(made, seed))
    yield data_homes.billed(homes.with_timed(made, 1000.0, (22.0, 4.0), since, since + 90))
    yield data_homes.billed(homes.with_load(made, 300.0, since))
    yield data_homes.billed(homes.with_growth(made, 400.0, 120, 120), loads=data_homes.listed(made, seed))
    day = np.repeat(np.arange(len(made.mean_c)), 1440)
    heat = 140.0 * np.maximum(16.0 - made.mean_c, 0.0)[day] * np.where((day >= 270) & (day < 340), 2.2, 1.0)
    yield data_homes.billed(dataclasses.replace(made, watts={**made.watts, "strip heat": heat}), minutes=60)
    gone = np.where((day >= 200) & (day < 214), 0.1, np.where((day >= 250) & (day < 264), 2.5, 1.0))
    lived = {name: watts * gone for name, watts in made.watts.items()}
    yield data_homes.billed(dataclasses.replace(made, watts=lived), minutes=60)
    plate = Load(
        "Water heater", watts=round(made.watts["water heater"].max(), -1), watts_within_percent=5.0, run_hours=1.5
    )
    first = made.first + timedelta(days=300)
    runs = tuple(IntervalRun(first + timedelta(days=night), 1.0, 2.0, 3.0) for night in range(4))
    exchange = (Event(made.first + timedelta(days=since), "meter-exchange"),)
    for gain in (0.0, 0.25):
        house = data_homes.billed(made, gain=gain, since=since, loads=(plate,))
        yield dataclasses.replace(house, field_test=FieldTest(interval_runs=runs), events=exchange if gain else ())


def may_be_null() -> set[str]:
    """Names of fields that some dataclass of the answer allows to be None."""
    found: set[str] = set()
    for package in NAMED_LATER:
        module = importlib.import_module(package)
        names = [package]
        if hasattr(module, "__path__"):
            names += [f"{package}.{info.name}" for info in pkgutil.iter_modules(module.__path__)]
        for name in names:
            for thing in vars(importlib.import_module(name)).values():
                if dataclasses.is_dataclass(thing) and isinstance(thing, type):
                    found |= {field.name for field in dataclasses.fields(thing) if "None" in str(field.type)}
    return found


def shape(values: list[Any], key: str, holder: str, nullable: set[str]) -> dict[str, Any]:
    """Return the schema of values that stand in one place."""
    known = [value for value in values if value is not None]
    null = len(known) < len(values) or key in nullable
    made = _shape(known, key, holder, nullable)
    rule = RULES.get(f"{holder}.{key}", RULES.get(key))
    if rule is not None and not (known and isinstance(known[0], dict | list)):
        made = {**rule}
    if not null or not made:
        return made
    if isinstance(made.get("type"), list):
        return made
    if isinstance(made.get("type"), str) and "properties" not in made:
        return {**made, "type": [made["type"], "null"]}
    return {"anyOf": [made, {"type": "null"}]}


def _shape(known: list[Any], key: str, holder: str, nullable: set[str]) -> dict[str, Any]:
    if not known:
        return {}
    kinds = {type(value) for value in known}
    if kinds == {bool}:
        return {"type": "boolean"}
    if kinds <= {int, float}:
        return {"type": "number"}
    if kinds == {str}:
        if all(re.match(DATE, value) for value in known):
            return {"type": "string", "pattern": DATE}
        return {"type": "string", "pattern": CODE} if key == "code" else {"type": "string"}
    if kinds == {list}:
        items = [item for value in known for item in value]
        one = key.removesuffix("s") if key != "loads" else "load"
        return {"type": "array", "items": shape(items, f"{key}[]", one, nullable)}
    if kinds == {dict}:
        if key in MAPS:
            inside = [item for value in known for item in value.values()]
            free = key == "figures" or not inside
            return {
                "type": "object",
                "additionalProperties": True if free else shape(inside, f"{key}{{}}", key, nullable),
            }
        names = list(dict.fromkeys(name for value in known for name in value))
        name = holder if key.endswith("[]") else key
        seen = {one: [value[one] for value in known if one in value] for one in names}
        return {
            "type": "object",
            "additionalProperties": False,
            "required": [name for name in names if all(name in value for value in known)],
            "properties": {
                one: shape([*values, *seen.get(ALIKE.get(one, ""), [])], one, name, nullable)
                for one, values in seen.items()
            },
        }
    return {}


def made() -> dict[str, Any]:
    """Return the whole schema."""
    whole = shape(list(answers()), "result", "", may_be_null())
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"result.json of {SCHEMA}",
        "description": "Written by tests/make_schema.py. Lists of codes may grow; no key stands beside those named.",
        **whole,
    }


def kept(new: Any, old: Any) -> Any:
    """Return the new schema with the items of those lists that no answer filled as they were known before."""
    if isinstance(new, list) and isinstance(old, list) and len(new) == len(old):
        return [kept(one, before) for one, before in zip(new, old, strict=True)]
    if not isinstance(new, dict) or not isinstance(old, dict):
        return new
    unseen = new.get("items") == {} and "items" in old
    return {key: old[key] if key == "items" and unseen else kept(value, old.get(key)) for key, value in new.items()}


def main() -> None:
    """Write it."""
    schema = kept(made(), json.loads(TARGET.read_text(encoding="utf-8")))
    TARGET.write_text(json.dumps(schema, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    print(f"{TARGET.relative_to(ROOT)}: {TARGET.stat().st_size} bytes")


if __name__ == "__main__":
    main()

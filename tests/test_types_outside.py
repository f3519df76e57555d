"""A script that uses the public names runs without a warning, and type checkers find nothing in it."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import reconcile

SCRIPT = Path(__file__).parent / "outside" / "uses.py"


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The package as it is installed, and the script beside it, away from this repository."""
    place = tmp_path_factory.mktemp("outside")
    source = Path(reconcile.__file__).parent
    shutil.copytree(source, place / "site" / "reconcile", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(SCRIPT, place / "uses.py")
    return place


def test_the_script_runs(elsewhere: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": str(elsewhere / "site")}
    command = [sys.executable, "-W", "error", "uses.py"]
    done = subprocess.run(command, cwd=elsewhere, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert "reconcile/1" in done.stdout


def test_mypy_finds_nothing(elsewhere: Path) -> None:
    environment = {**os.environ, "MYPYPATH": str(elsewhere / "site")}
    command = [
        sys.executable,
        "-m",
        "mypy",
        "--strict",
        "--follow-imports=silent",
        "--cache-dir",
        str(elsewhere / "cache"),
    ]
    done = subprocess.run(
        [*command, "uses.py"], cwd=elsewhere, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


WRONG = """\
import pandas as pd
import reconcile
frame = pd.DataFrame()
house = reconcile.House.from_frames(frame, temperature_unit="C", band={"coverage": 0.9}, occupants=3)
reconcile.House.from_frames(frame, temperature_units="C")
reconcile.House.from_frames(frame, timezone=3)
reconcile.House.from_frames(frame, band={"coverages": 0.9})
reconcile.House.from_frames(frame, meter=[{"digits": 5}, {"digit": 5}])
answer = reconcile.reconcile(house, odds={"meter-step": 3.0}, costs={"call": 20.0})
reconcile.reconcile(house, odds={"fast": 3.0})
assert answer.causes[0].code == "meterstep"
assert answer.causes[0].code == "meter-step"
"""


def test_mypy_finds_what_is_wrong(elsewhere: Path) -> None:
    (elsewhere / "wrong.py").write_text(WRONG)
    command = [sys.executable, "-m", "mypy", "--strict", "--follow-imports=silent", "--cache-dir"]
    environment = {**os.environ, "MYPYPATH": str(elsewhere / "site")}
    done = subprocess.run(
        [*command, str(elsewhere / "cache"), "wrong.py"],
        cwd=elsewhere,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    lines = {int(line.split(":")[1]) for line in done.stdout.splitlines() if ": error:" in line}
    assert lines == {5, 6, 7, 8, 10, 11}, done.stdout


@pytest.mark.skipif(shutil.which("pyright", path=str(Path(sys.executable).parent)) is None, reason="no pyright")
def test_pyright_finds_nothing(elsewhere: Path) -> None:
    settings = {
        "extraPaths": ["site"],
        "include": ["uses.py"],
        "typeCheckingMode": "strict",
        "reportMissingTypeStubs": False,
        "reportMissingModuleSource": False,
    }
    (elsewhere / "pyrightconfig.json").write_text(json.dumps(settings))
    pyright = Path(sys.executable).parent / "pyright"
    command = [str(pyright), "--pythonpath", sys.executable, "-p", "pyrightconfig.json"]
    done = subprocess.run(command, cwd=elsewhere, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr

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

"""Templates compiled once."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import jinja2
import pytest

from reconcile.report.pages import templating


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return where Python would keep the compiled module, which is not yet there."""
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    monkeypatch.setattr(sys, "pycache_prefix", str(tmp_path))
    return Path(importlib.util.cache_from_source(str(templating.__file__))).parent


def fresh() -> jinja2.Template:
    return templating.environment.__wrapped__().get_template("parts.html")


def refuse(*_: object, **__: object) -> None:
    raise AssertionError("compiled once more")


def test_a_template_is_compiled_at_the_first_start_only(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder.mkdir(parents=True)
    fresh()
    assert len(list(folder.iterdir())) == 1
    monkeypatch.setattr(jinja2.Environment, "_generate", refuse)
    assert "steps_list" in vars(fresh().module)


def test_one_that_changed_is_compiled_again(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder.mkdir(parents=True)
    fresh()
    [kept] = folder.iterdir()
    kept.write_bytes(b"something else")
    assert "steps_list" in vars(fresh().module)
    monkeypatch.setattr(templating, "__version__", "another")
    monkeypatch.setattr(jinja2.Environment, "_generate", refuse)
    with pytest.raises(AssertionError, match="compiled once more"):
        fresh()


def test_nothing_is_kept_where_python_keeps_nothing(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fresh()
    assert not folder.exists()
    folder.mkdir(parents=True)
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    fresh()
    assert not list(folder.iterdir())

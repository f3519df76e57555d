from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from reconcile.errors import OutputError
from reconcile.report import save as saving
from reconcile.report.save import answer_folder, save, write_whole
from reconcile.result import Reconciliation

Make = Callable[..., Reconciliation]

NAMES = ("report.html", "reconciliation.xlsx", "result.json")


def state(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_three_files_and_nothing_else(make: Make, tmp_path: Path) -> None:
    written = save(make(), tmp_path / "new" / "answer")
    assert tuple(path.name for path in written) == NAMES
    assert sorted(state(tmp_path / "new" / "answer")) == sorted(NAMES)
    assert json.loads(written[2].read_text(encoding="utf-8"))["schema"] == "reconcile/1"


def test_its_own_earlier_answer_is_replaced(make: Make, tmp_path: Path) -> None:
    save(make(3, 3), tmp_path)
    before = state(tmp_path)
    save(make(12, 8), tmp_path)
    assert all(before[name] != content for name, content in state(tmp_path).items())


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("content", [b"", b"mine", b'{"schema": "another/1"}', b"[1]", b"PK\x03\x04 not a workbook"])
def test_a_stranger_is_never_overwritten_and_nothing_else_is_written(
    make: Make, tmp_path: Path, name: str, content: bytes
) -> None:
    (tmp_path / name).write_bytes(content)
    with pytest.raises(OutputError, match=name):
        save(make(), tmp_path)
    assert state(tmp_path) == {name: content}


def test_a_workbook_of_another_program_is_a_stranger(make: Make, tmp_path: Path) -> None:
    import openpyxl

    openpyxl.Workbook().save(tmp_path / "reconciliation.xlsx")
    with pytest.raises(OutputError, match="not made by this program"):
        save(make(), tmp_path)


def test_a_link_and_a_folder_in_the_way_are_strangers(make: Make, tmp_path: Path) -> None:
    mine = tmp_path / "mine.json"
    mine.write_text('{"schema": "reconcile/1"}')
    answer = tmp_path / "answer"
    answer.mkdir()
    (answer / "result.json").symlink_to(mine)
    with pytest.raises(OutputError):
        save(make(), answer)
    (answer / "result.json").unlink()
    (answer / "report.html").mkdir()
    with pytest.raises(OutputError):
        save(make(), answer)
    assert mine.read_text() == '{"schema": "reconcile/1"}'


def test_other_files_in_the_folder_stay(make: Make, tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    save(make(), tmp_path)
    assert (tmp_path / "notes.txt").read_text() == "mine"


def test_a_write_that_fails_leaves_what_was_there(make: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    save(make(3, 3), tmp_path)
    before = state(tmp_path)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="No space left"):
        save(make(12, 8), tmp_path)
    assert state(tmp_path) == before


def test_a_rendering_that_fails_writes_nothing(make: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from reconcile.report import answer_workbook as workbook

    def broken(_: Reconciliation) -> bytes:
        raise RuntimeError("broken")

    monkeypatch.setattr(workbook, "workbook_bytes", broken)
    with pytest.raises(RuntimeError):
        save(make(), tmp_path / "answer")
    assert not (tmp_path / "answer").exists()


def test_a_file_is_replaced_whole_never_written_in_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "result.json"
    path.write_bytes(b"old")
    seen: list[bytes] = []
    replace = os.replace

    def watched(source: Path, target: Path) -> None:
        seen.append(path.read_bytes())
        assert Path(source).read_bytes() == b"new"
        replace(source, target)

    monkeypatch.setattr(saving.os, "replace", watched)
    write_whole({path: b"new"})
    assert seen == [b"old"]
    assert state(tmp_path) == {"result.json": b"new"}


def test_a_folder_that_cannot_be_made_is_an_output_error(make: Make, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder")
    with pytest.raises(OutputError):
        save(make(), tmp_path / "file" / "answer")


def test_the_same_answer_gives_the_same_files(make: Make, tmp_path: Path) -> None:
    save(make(), tmp_path / "a")
    save(make(), tmp_path / "b")
    assert state(tmp_path / "a") == state(tmp_path / "b")


def test_the_answer_of_the_folder_one_stands_in_is_beside_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "cottage").mkdir()
    monkeypatch.chdir(tmp_path / "cottage")
    assert answer_folder(Path(".")) == tmp_path / "cottage.answer"
    assert answer_folder(tmp_path / "dr. who") == tmp_path / "dr. who.answer"

from __future__ import annotations

import io
import json
import os
import re
import shutil
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from reconcile import cli
from reconcile.errors import OutputError
from reconcile.report import staging
from reconcile.report.save import answer_folder, save, write_whole
from reconcile.report.staging import RECORD
from reconcile.result import Reconciliation

Make = Callable[..., Reconciliation]

NAMES = ("report.html", "reconciliation.xlsx", "result.json")
pytestmark = pytest.mark.usefixtures("drawn_once")


def state(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_three_files_and_nothing_else(make: Make, tmp_path: Path) -> None:
    written = save(make(), tmp_path / "new" / "answer")
    assert tuple(path.name for path in written) == NAMES
    assert sorted(state(tmp_path / "new" / "answer")) == sorted((RECORD, *NAMES))
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
    from reconcile.report.workbooks import answer_workbook as workbook

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

    monkeypatch.setattr(staging.os, "replace", watched)
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


def rezipped(content: bytes, change: Callable[[str, bytes], bytes]) -> bytes:
    """A workbook packed anew, its parts changed: what a spreadsheet program does when it saves."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, change(name, old.read(name)))
    return stream.getvalue()


def with_a_sheet(content: bytes) -> bytes:
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(content))
    book.create_sheet("my notes").append(["ask the utility"])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


EDITS: dict[str, tuple[str, Callable[[bytes], bytes]]] = {
    "a sheet added": ("reconciliation.xlsx", with_a_sheet),
    "saved anew with nothing changed": ("reconciliation.xlsx", lambda b: rezipped(b, lambda _, part: part)),
    "saved by a program that drops the properties": (
        "reconciliation.xlsx",
        lambda b: rezipped(b, lambda name, part: b"<x/>" if name == "docProps/core.xml" else part),
    ),
    "a cell changed": (
        "reconciliation.xlsx",
        lambda b: rezipped(b, lambda name, part: part.replace(b"<v>1", b"<v>2") if "sheet" in name else part),
    ),
    "replaced by another workbook": ("reconciliation.xlsx", lambda b: b"PK\x03\x04 somebody's"),
    "a workbook emptied": ("reconciliation.xlsx", lambda b: b""),
    "a workbook made text": ("reconciliation.xlsx", lambda b: b"start,end,kwh\n"),
    "a byte appended to the workbook": ("reconciliation.xlsx", lambda b: b + b"\n"),
    "a note in the page": ("report.html", lambda b: b.replace(b"</body>", b"<p>ask Ann</p></body>")),
    "a comment behind the page": ("report.html", lambda b: b + b"<!-- done -->"),
    "a word of the page": ("report.html", lambda b: b.replace(b"</h1>", b", draft</h1>", 1)),
    "the page's mark taken out": ("report.html", lambda b: re.sub(rb"<meta name=.generator[^>]*>", b"", b)),
    "the page with other line ends": ("report.html", lambda b: b.replace(b"\n", b"\r\n")),
    "the page replaced": ("report.html", lambda b: b"<p>mine</p>"),
    "the page in another encoding": ("report.html", lambda b: b.decode().encode("utf-16")),
    "a key of the data": ("result.json", lambda b: b.replace(b'"USD"', b'"CAD"', 1)),
    "a key added to the data": ("result.json", lambda b: b.replace(b"{", b'{"mine": true,', 1)),
    "the data laid out anew": ("result.json", lambda b: json.dumps(json.loads(b), indent=4).encode()),
    "the data replaced": ("result.json", lambda b: b"[]"),
    "the data cut short": ("result.json", lambda b: b[: len(b) // 2]),
}


@pytest.mark.parametrize("other", [False, True], ids=["alone", "beside other files"])
@pytest.mark.parametrize("edit", EDITS)
def test_what_a_person_has_changed_is_kept(make: Make, tmp_path: Path, edit: str, other: bool) -> None:
    name, change = EDITS[edit]
    answer = tmp_path / "answer"
    save(make(3, 3), answer)
    if other:
        (answer / "photo.txt").write_text("mine")
    changed = change((answer / name).read_bytes())
    assert changed != (answer / name).read_bytes()
    (answer / name).write_bytes(changed)
    before = state(answer)
    written = save(make(12, 8), answer)
    assert state(answer) == before
    assert [path.parent.name for path in written] == ["answer-2"] * 3
    first = state(tmp_path / "answer-2")
    save(make(3, 3), answer)  # the numbered one is the program's own, and is replaced
    assert state(answer) == before
    assert state(tmp_path / "answer-2").keys() == first.keys()
    assert all(state(tmp_path / "answer-2")[name] != content for name, content in first.items())
    assert sorted(path.name for path in tmp_path.iterdir()) == ["answer", "answer-2"]


def test_a_changed_answer_beside_a_changed_answer_is_kept_too(make: Make, tmp_path: Path) -> None:
    for _ in range(3):
        written = save(make(3, 3), tmp_path / "answer")
        written[0].write_text("mine")
    assert written[0].parent.name == "answer-3"
    assert [(tmp_path / name / "report.html").read_text() for name in ("answer", "answer-2")] == ["mine", "mine"]


def test_a_link_put_in_place_of_an_output_is_kept(make: Make, tmp_path: Path) -> None:
    answer, mine = tmp_path / "answer", tmp_path / "mine.html"
    save(make(3, 3), answer)
    shutil.move(answer / "report.html", mine)
    (answer / "report.html").symlink_to(mine)
    before = mine.read_bytes()
    assert save(make(12, 8), answer)[0].parent.name == "answer-2"
    assert mine.read_bytes() == before


def test_answers_of_unknown_state_are_kept(make: Make, tmp_path: Path) -> None:
    save(make(3, 3), tmp_path / "answer")
    (tmp_path / "answer" / RECORD).write_text("{")
    before = state(tmp_path / "answer")
    assert save(make(12, 8), tmp_path / "answer")[0].parent.name == "answer-2"
    assert state(tmp_path / "answer") == before


def test_an_output_that_was_deleted_or_only_touched_is_written_again(make: Make, tmp_path: Path) -> None:
    answer = tmp_path / "answer"
    save(make(3, 3), answer)
    (answer / "report.html").unlink()
    os.utime(answer / "result.json")
    assert save(make(12, 8), answer)[0].parent == answer
    assert sorted(state(answer)) == sorted((RECORD, *NAMES))


def test_a_folder_somebody_stands_in_is_not_exchanged_under_them(
    make: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = tmp_path / "answer"
    save(make(3, 3), answer)
    monkeypatch.chdir(answer)
    node = answer.stat().st_ino
    save(make(12, 8), Path("."))
    assert answer.stat().st_ino == node
    assert sorted(state(answer)) == sorted((RECORD, *NAMES))
    (answer / "report.html").write_text("mine")
    assert save(make(12, 8), Path("."))[0].parent == tmp_path / "answer-2"


@pytest.mark.parametrize("why", ["no such call", "another error"])
def test_where_folders_cannot_be_exchanged_files_are_replaced_one_by_one(
    make: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, why: str
) -> None:
    if why == "no such call":
        monkeypatch.setattr(staging.ctypes, "CDLL", lambda *_, **__: object())
    else:
        monkeypatch.setattr(staging, "_exchange", lambda *_: False)
    for periods in (3, 12, 3):
        assert save(make(periods, 3), tmp_path / "answer")[0].parent.name == "answer"
        assert sorted(state(tmp_path / "answer")) == sorted((RECORD, *NAMES))
    assert [path.name for path in tmp_path.iterdir()] == ["answer"]


def test_a_run_ended_between_two_files_is_mended_by_the_next(
    make: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save(make(3, 3), tmp_path / "answer")
    (tmp_path / "answer" / "notes.txt").write_text("mine")
    replace, done = os.replace, []

    def stopped(source: Path, target: Path) -> None:
        if len(done) == 2:
            raise KeyboardInterrupt
        done.append(target)
        replace(source, target)

    monkeypatch.setattr(staging.os, "replace", stopped)
    with pytest.raises(KeyboardInterrupt):
        save(make(12, 8), tmp_path / "answer")
    monkeypatch.setattr(staging.os, "replace", replace)
    save(make(12, 8), tmp_path / "fresh")
    assert save(make(12, 8), tmp_path / "answer")[0].parent.name == "answer"
    mended, fresh = state(tmp_path / "answer"), state(tmp_path / "fresh")
    assert {name: mended[name] for name in NAMES} == {name: fresh[name] for name in NAMES}


def test_what_a_killed_run_left_is_taken_away_and_what_a_living_one_has_is_not(make: Make, tmp_path: Path) -> None:
    answer = tmp_path / "answer"
    save(make(3, 3), answer)
    for place in (tmp_path, answer):
        (place / ".answer.0123abcd.new").mkdir()
        (place / ".answer.0123abcd.new" / "report.html").write_text("half")
    living = tmp_path / ".answer.89abcdef.new"
    living.mkdir()
    lock = staging._lock(living)
    assert lock is not None
    save(make(3, 3), answer)
    assert sorted(path.name for path in tmp_path.iterdir()) == [living.name, "answer"]
    assert sorted(state(answer)) == sorted((RECORD, *NAMES))
    os.close(lock)
    save(make(3, 3), answer)
    assert [path.name for path in tmp_path.iterdir()] == ["answer"]


WRITER = """
import sys
from pathlib import Path
from reconcile.report import staging
old, new = b"old" * 40_000, b"new" * 40_000
print("ready", flush=True)
while True:
    for content in (old, new):
        staging.put_together(Path(sys.argv[1]), {"a": content, "b": content, "c": content})
"""


def test_killed_at_any_moment_the_answer_is_one_answer(tmp_path: Path) -> None:
    answer = tmp_path / "answer"
    for round_ in range(20):
        run = subprocess.Popen([sys.executable, "-c", WRITER, answer], stdout=subprocess.PIPE)
        assert run.stdout is not None
        run.stdout.readline()
        time.sleep(0.005 + 0.0031 * round_)
        run.kill()
        run.wait()
        run.stdout.close()
        if answer.exists():
            assert len({(answer / name).read_bytes() for name in "abc"}) == 1
            assert staging.recorded(answer).keys() == {"a", "b", "c"}
            assert all(staging.is_unchanged(answer / name, staging.recorded(answer)) for name in "abc")
        staging.put_together(answer, dict.fromkeys("abc", b"next"))
        assert [path.name for path in tmp_path.iterdir()] == ["answer"]


def test_several_runs_at_once_leave_one_whole_answer(tmp_path: Path) -> None:
    answer = tmp_path / "answer"
    runs = [subprocess.Popen([sys.executable, "-c", WRITER, answer], stdout=subprocess.PIPE) for _ in range(3)]
    for run in runs:
        assert run.stdout is not None
        run.stdout.readline()
    time.sleep(1.0)
    assert [run.poll() for run in runs] == [None] * 3  # none fell over another's files
    for run in runs:
        run.kill()
        run.wait()
        assert run.stdout is not None
        run.stdout.close()
    assert len({(answer / name).read_bytes() for name in "abc"}) == 1
    staging.put_together(answer, dict.fromkeys("abc", b"next"))
    assert [path.name for path in tmp_path.iterdir()] == ["answer"]


@pytest.mark.parametrize("wait", [0.0, 0.004])
def test_the_command_line_killed_while_it_writes_leaves_one_answer_and_the_next_run_mends(
    tmp_path: Path, wait: float
) -> None:
    house, answer = tmp_path / "all_well", tmp_path / "all_well.answer"
    shutil.copytree(Path(__file__).parents[2] / "sample_bills" / "all_well", house)
    arguments = ["check", str(house), "--quiet"]
    assert cli.run(arguments) == 0
    old = state(answer)
    bills = (house / "bills.csv").read_text(encoding="utf-8").splitlines()
    (house / "bills.csv").write_text("\n".join(bills[:-2]) + "\n", encoding="utf-8")
    run = subprocess.Popen([sys.executable, "-m", "reconcile", *arguments], stdout=subprocess.DEVNULL)
    while run.poll() is None and not any(path.name.endswith(".new") for path in tmp_path.iterdir()):
        time.sleep(0.0005)
    time.sleep(wait)
    run.kill()
    run.wait()
    left = state(answer)
    assert cli.run(arguments) == 0
    new = state(answer)
    assert all(old[name] != new[name] for name in NAMES)
    assert left in (old, new)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["all_well", "all_well.answer"]

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from reconcile import cli

ROOT = Path(__file__).parents[1]
SAMPLE = ROOT / "sample_bills" / "all_well"


pytestmark = pytest.mark.usefixtures("drawn_once")


@pytest.fixture
def house(tmp_path: Path) -> Path:
    """A copy of a sample house, so that nothing is written beside the sample."""
    return Path(shutil.copytree(SAMPLE, tmp_path / "cottage"))


COMMANDS = {"check", "begin", "estimate", "loads", "many", "page", "plan", "printed", "judge", "letter"}
ANSWER = [".written.json", "reconciliation.xlsx", "report.html", "result.json"]


def run(*arguments: str | Path) -> int:
    return cli.run([str(argument) for argument in arguments])


def content(folder: Path) -> dict[str, str]:
    return {
        str(p.relative_to(folder)): hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.rglob("*") if p.is_file()
    }


def test_check_prints_the_answer_and_writes_it_beside_the_house(
    house: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = content(house)
    assert run("check", house) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert "Every bill is what this house should have used" in " ".join(out.split())
    assert max(len(line) for line in out.split("Written:")[0].splitlines()) <= 100
    assert "\x1b" not in out
    answer = house.with_name("cottage.answer")
    assert sorted(path.name for path in answer.iterdir()) == ANSWER
    assert content(house) == before
    assert run("check", house) == 0


def test_json_prints_what_the_file_holds(house: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("check", house, "--json", "--out", tmp_path / "out") == 0
    printed = json.loads(capsys.readouterr().out)
    assert printed == json.loads((tmp_path / "out" / "result.json").read_text(encoding="utf-8"))


def test_quiet_prints_nothing(house: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("check", house, "--quiet", "--out", tmp_path / "out") == 0
    assert capsys.readouterr() == ("", "")
    assert (tmp_path / "out" / "report.html").exists()


def test_every_fault_is_listed_with_its_place_and_remedy(house: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (house / "bills.csv").write_text(
        "start,end,kwh\n2025-01-07,2025-02-31,812\n2025-02-06,2025-03-07,abc\n", encoding="utf-8"
    )
    assert run("check", house) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "things have to be put right first" in err
    assert "bills.csv, row 2, column end" in err
    assert "bills.csv, row 3, column kwh" in err
    assert "Traceback" not in err
    assert not house.with_name("cottage.answer").exists()


def test_a_house_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("check", tmp_path / "nowhere") == 2
    assert "nowhere" in capsys.readouterr().err


def test_several_houses_are_weighed_each_by_itself(
    house: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broken = tmp_path / "broken"
    broken.mkdir()
    (broken / "bills.csv").write_text("start,end,kwh\n2025-01-07,2025-02-31,812\n", encoding="utf-8")
    table, out = tmp_path / "all.csv", tmp_path / "out"
    assert run("check", house, broken, CHECKED, "--out", out, "--summary", table) == 2
    printed, err = capsys.readouterr()
    assert [line for line in printed.splitlines() if line.startswith("== ")] == [
        f"== {one}" for one in (house, broken, CHECKED)
    ]
    assert f"{broken}:" in err
    assert "bills.csv, row 2, column end" in err
    assert sorted(path.name for path in out.iterdir()) == ["cottage.answer", "fast_meter_checked.answer"]
    rows = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    assert [row["decision"] for row in rows] == ["explained", "", "field-test"]
    assert [row["written"] for row in rows] == [str(out / "cottage.answer"), "", str(out / "fast_meter_checked.answer")]
    assert "bills.csv, row 2, column end" in rows[1]["to_be_put_right"]
    assert run("check", house, CHECKED, "--out", out, "--summary", table) == 2
    assert "already there" in capsys.readouterr().err
    assert run("check", house, house, "--quiet") == 2
    assert "one name" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["bills.txt", "Loads.CSV", "house.toml"])
def test_the_folder_of_one_house_is_not_taken_for_many(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    (tmp_path / name).write_text("", encoding="utf-8")
    assert run("many", tmp_path) == 2
    assert "is one house" in capsys.readouterr().err


def test_every_house_of_a_folder_is_weighed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    street, table, out = tmp_path / "street", tmp_path / "all.csv", tmp_path / "out"
    shutil.copytree(SAMPLE, street / "cottage")
    shutil.copy(SAMPLE.with_suffix(".xlsx"), street / "cottage.xlsx")
    (street / "cottage.answer").mkdir()
    (street / "broken.csv").write_text("start,end,kwh\n2025-01-07,2025-02-31,812\n", encoding="utf-8")
    before = content(street)
    assert run("many", street, "--out", out, "--summary", table, "--jobs", 1) == 2
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("broken.csv: 1 to be put right: broken.csv, row 2, column end")
    first = "explained. Every bill is what this house should"  # the decision, and the first sentence of the answer
    assert all(line.split(": ", 1)[1].startswith(first) and line.count(". ") == 1 for line in lines[1:3])
    assert lines[3] == "3 houses: explained 2, to be put right 1."
    assert sorted(path.name for path in out.iterdir()) == ["cottage.answer", "cottage.xlsx.answer"]
    rows = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    assert [row["decision"] for row in rows] == ["", "explained", "explained"]
    assert content(street) == before
    assert run("many", street, "--summary", table) == 2
    assert "already there" in capsys.readouterr().err


def test_many_houses_as_lines_of_json_are_the_same_from_any_number_of_processes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("one", "two"):
        shutil.copytree(SAMPLE, tmp_path / "street" / name)
    printed = []
    for jobs in (1, 2):
        assert run("many", tmp_path / "street", "--json", "--jobs", jobs) == 0
        printed.append(capsys.readouterr().out)
    assert printed[0] == printed[1]
    told = [json.loads(line) for line in printed[0].splitlines()]
    assert [Path(one["path"]).name for one in told] == ["one", "two"]
    assert {one["answer"]["verdict"]["decision"] for one in told} == {"explained"}


@pytest.mark.parametrize("command", ["check", "many"])
def test_who_reads_the_first_line_alone_still_gets_the_table(command: str, tmp_path: Path) -> None:
    for name in ("one", "two"):
        shutil.copytree(SAMPLE, tmp_path / "street" / name)
    houses = [tmp_path / "street"] if command == "many" else sorted((tmp_path / "street").iterdir())
    table = tmp_path / "all.csv"
    arguments = [sys.executable, "-m", "reconcile", command, *houses, "--summary", table]
    with subprocess.Popen(arguments, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as run:
        assert run.stdout
        assert run.stderr
        run.stdout.close()
        assert run.stderr.read() == b""
        assert run.wait(60) == 0
    assert len(table.read_text(encoding="utf-8").splitlines()) == 3


def test_many_wants_a_folder_of_houses(house: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("many", house) == 2
    assert "is one house. Run: reconcile check" in capsys.readouterr().err
    (tmp_path / "empty").mkdir()
    assert run("many", tmp_path / "empty") == 2
    assert "holds no house" in capsys.readouterr().err


def test_what_goes_on_is_said_to_a_terminal_alone_and_only_after_a_moment(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import time

    from reconcile import progress

    monkeypatch.setattr(progress, "AFTER_S", 0.05)
    with progress.doing("Weighing"):
        time.sleep(0.2)
    assert capsys.readouterr().err == ""  # no terminal
    terminal = io.StringIO()
    monkeypatch.setattr(terminal, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(sys, "stderr", terminal)
    with progress.doing("Reading"):
        pass
    with progress.doing("Weighing"):
        time.sleep(0.3)
    assert terminal.getvalue() == "Weighing ...\n"


def test_somebody_elses_file_is_not_overwritten(
    house: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "report.html").write_text("<p>mine</p>")
    assert run("check", house, "--out", tmp_path / "out") == 2
    assert "report.html is already there" in capsys.readouterr().err
    assert content(tmp_path / "out") == {"report.html": hashlib.sha256(b"<p>mine</p>").hexdigest()}


@pytest.mark.parametrize("how", [(), ("--quiet",), ("--json",)])
def test_an_edited_answer_is_kept_and_the_new_one_stands_beside(
    house: Path, capsys: pytest.CaptureFixture[str], how: tuple[str, ...]
) -> None:
    assert run("check", house, *how) == 0
    answer = house.with_name("cottage.answer")
    page = answer / "report.html"
    page.write_text(page.read_text(encoding="utf-8") + "<!-- ask Ann -->", encoding="utf-8")
    before = content(answer)
    capsys.readouterr()
    for _ in range(2):
        assert run("check", house, *how) == 0
        out, err = capsys.readouterr()
        assert f"The new answer is in {answer}-2" in (err if how else out)
        assert content(answer) == before
        assert sorted(path.name for path in house.parent.iterdir()) == ["cottage", "cottage.answer", "cottage.answer-2"]
    assert f"report.html, reconciliation.xlsx, result.json in {answer}-2" in out or how


def test_the_answer_is_kept_apart_from_the_house(house: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = content(house)
    assert run("check", house, "--out", house) == 2
    assert "kept apart" in capsys.readouterr().err
    assert content(house) == before


def test_an_unexpected_error_is_one_sentence(
    house: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    import reconcile.answer

    def broken(_: object) -> None:
        raise ZeroDivisionError("inner matter")

    monkeypatch.setattr(reconcile.answer, "reconcile", broken)
    monkeypatch.delenv("RECONCILE_RAISE", raising=False)
    assert run("check", house) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert "ZeroDivisionError" in err
    assert "report this" in err
    monkeypatch.setenv("RECONCILE_RAISE", "1")
    with pytest.raises(ZeroDivisionError):
        run("check", house)


@pytest.mark.parametrize("arguments", [("check",), ("chek", "x"), ("check", "x", "--nonsense"), ("loads", "a", "b")])
def test_a_wrong_command_line_is_two(arguments: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(*arguments) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_begin_writes_a_house_whose_examples_are_not_weighed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    new = tmp_path / "my house"
    assert run("begin", new, "--folder") == 0
    names = ["READ ME.txt", "bills.csv", "events.csv", "house.toml", "loads.csv"]
    assert sorted(path.name for path in new.iterdir()) == names
    assert run("check", new) == 2
    assert "only the starter's examples are there" in capsys.readouterr().err
    assert not (tmp_path / "my house.answer").exists()


def test_every_line_of_the_starter_may_be_used(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    new = tmp_path / "new"
    run("begin", new, "--folder")
    settings = (new / "house.toml").read_text(encoding="utf-8")
    used = "\n".join(
        line.removeprefix("# ") if line.startswith(("# [", "# ")) and ("=" in line or line.startswith("# [")) else line
        for line in settings.splitlines()
    )
    assert used.count("=") > 20
    (new / "house.toml").write_text(used + "\n", encoding="utf-8")
    with (new / "bills.csv").open("a", encoding="utf-8") as bills:
        bills.write("2025-05-06,2025-06-05,702,114.80\n")
    assert run("check", new) == 0, capsys.readouterr().err


def test_begin_overwrites_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "bills.csv").write_text("mine")
    assert run("begin", tmp_path, "--folder") == 2
    assert "already holds bills.csv" in capsys.readouterr().err
    assert content(tmp_path) == {"bills.csv": hashlib.sha256(b"mine").hexdigest()}


CHECKED = ROOT / "sample_bills" / "fast_meter_checked"


def test_plan_prints_and_writes_what_nobody_has_filled_in(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("plan", CHECKED) == 0
    assert "Field test for" in capsys.readouterr().out
    assert run("plan", CHECKED, "--out", tmp_path) == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["field-test.html", "field-test.xlsx"]
    before = content(tmp_path)
    assert run("plan", CHECKED, "--out", tmp_path) == 2
    assert "perhaps filled in" in capsys.readouterr().err
    assert content(tmp_path) == before
    capsys.readouterr()
    assert run("plan", CHECKED, "--for", "electrician", "--out", tmp_path) == 0
    assert "CAT III" in capsys.readouterr().out
    assert (tmp_path / "field-test-electrician.html").exists()
    assert (tmp_path / "field-test-electrician.xlsx").exists()


def test_nothing_is_planned_for_an_electrician_where_the_service_is_not_known(tmp_path, capsys):
    (tmp_path / "bills.csv").write_text("start,end,kwh\n2025-01-07,2025-02-06,912\n")
    assert run("plan", tmp_path, "--for", "electrician") == 2
    assert "write service under [house]" in capsys.readouterr().err


def test_a_danger_plans_no_test(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("plan", ROOT / "sample_bills" / "danger_sign", "--out", tmp_path) == 0
    assert "Stop" in capsys.readouterr().out.splitlines()[2]
    assert not (tmp_path / "field-test-qualified.html").exists()


def test_judge_prints_and_writes_the_record(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("judge", CHECKED, "--out", tmp_path) == 0
    assert "outside" in capsys.readouterr().out
    assert run("judge", CHECKED, "--out", tmp_path) == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == [".written.json", "field-test-record.html"]
    (tmp_path / "field-test-record.html").write_text("<p>signed</p>")
    assert run("judge", CHECKED, "--out", tmp_path) == 0
    assert f"  {tmp_path / 'field-test-record-2.html'}\n" in capsys.readouterr().out
    assert (tmp_path / "field-test-record.html").read_text() == "<p>signed</p>"
    assert run("judge", SAMPLE) == 2
    assert "field_test.toml" in capsys.readouterr().err


def test_letter_prints_and_writes_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("letter", CHECKED, "--out", tmp_path) == 0
    assert "meter" in capsys.readouterr().out
    (tmp_path / "letter.html").write_text("my own words", encoding="utf-8")
    assert run("letter", CHECKED, "--out", tmp_path) == 2
    assert (tmp_path / "letter.html").read_text(encoding="utf-8") == "my own words"


def test_loads_prints_the_handbook(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("loads") == 0
    out = capsys.readouterr().out
    assert "refrigerator" in out
    assert run("loads", "dryer") == 0
    out = capsys.readouterr().out
    assert "electric clothes dryer" in out
    assert "refrigerator" not in out
    assert run("loads", "time machine") == 0
    assert "knows no load called" in capsys.readouterr().out


def test_help_names_the_commands_that_are_there_and_no_other(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--help") == 0
    out = capsys.readouterr().out
    for name in COMMANDS:
        assert f"\n  {name}" in out
    assert set(cli.cli.commands) == COMMANDS


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    from reconcile import __version__

    assert run("--version") == 0
    assert capsys.readouterr().out == f"reconcile {__version__}\n"


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys\nfrom reconcile import cli\nassert cli.run(['--help']) == 0\n"
        "heavy = {'numpy', 'pandas', 'scipy', 'matplotlib', 'openpyxl', 'xlsxwriter', 'pint', 'jinja2', 'rich'}\n"
        "sys.exit(' '.join(heavy & set(sys.modules)) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize(("wished", "threads"), [(None, "1"), ("3", "3")])
def test_the_program_reckons_in_one_thread_unless_told_otherwise(
    wished: str | None, threads: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # a house's matrices are small: threads that share them wait for each other
    monkeypatch.setattr(os, "environ", {} if wished is None else {"OMP_NUM_THREADS": wished})
    monkeypatch.setattr(cli, "run", lambda: 0)
    monkeypatch.setattr("gc.set_threshold", lambda _: None)
    with pytest.raises(SystemExit):
        cli.main()
    assert os.environ["OMP_NUM_THREADS"] == threads
    assert os.environ["OPENBLAS_NUM_THREADS"] == "1"


def test_a_terminal_without_the_letters_still_gets_its_answer(house: Path, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "reconcile", "check", str(house), "--out", str(tmp_path / "out")],
        capture_output=True,
        check=False,
        env={**os.environ, "PYTHONIOENCODING": "cp437", "PYTHONUTF8": "0"},
    )
    assert done.returncode == 0, done.stderr
    assert "Every bill is what this house" in " ".join(done.stdout.decode("cp437").split())


@pytest.mark.parametrize(
    ("to", "backend"),
    [
        (">&-", "module://matplotlib_inline.backend_inline"),
        (">&- 2>&-", None),
        ("2>&-", None),
        ("<&-", "module://no.such"),
        ("| head -n 1", "nonsense"),
        ("| true", ""),
    ],
)
def test_neither_a_closed_stream_nor_what_a_notebook_sets_for_its_drawings_does_harm(
    house: Path, tmp_path: Path, to: str, backend: str | None
) -> None:
    command = f"set -o pipefail; {sys.executable} -m reconcile check {house} --out {tmp_path / 'out'} {to}"
    environment = os.environ if backend is None else {**os.environ, "MPLBACKEND": backend}
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, check=False, env=environment)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ANSWER


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no device that is always full")
def test_an_answer_that_cannot_be_printed_is_still_written(house: Path, tmp_path: Path) -> None:
    command = f"{sys.executable} -m reconcile check {house} --out {tmp_path / 'out'} >/dev/full"
    done = subprocess.run(["/bin/sh", "-c", command], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert done.stderr == "The answer cannot be printed (No space left on device).\n"
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ANSWER


@pytest.mark.parametrize(
    ("arguments", "meant"), [(("chek", "x"), "check"), (("check", "x", "--jsn"), "--json"), (("leter", "x"), "letter")]
)
def test_a_slip_in_a_command_or_an_option_is_met_with_the_nearest(
    arguments: tuple[str, ...], meant: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(*arguments) == 2
    assert f"Did you mean '{meant}'?" in capsys.readouterr().err

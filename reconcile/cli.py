"""The command line: it parses, calls and prints, and computes nothing. Heavy imports stand inside the commands.

Exit status: 0 the work was done, whatever the verdict; 2 the input (or where to write) is wrong; 1 a fault of the
program. A traceback is nobody's answer.
"""

from __future__ import annotations

import gc
import io
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

import click

from reconcile import __version__
from reconcile.checking import SILENT, check_one, check_row, not_yet_there, write_table
from reconcile.console import (
    CANNOT_PRINT,
    RAISE,
    explain,
    one_line,
    print_no_more,
    say,
    say_written,
)
from reconcile.progress import doing
from reconcile.started import typed

COLLECTED_EVERY = 2_000_000
"""New objects between two searches for cycles of them: at Python's 700 the program would spend a tenth of its time on
them while it loads and draws, for as good as nothing (our choice)."""
ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
"""Read by the libraries of linear algebra when they are loaded: a house's matrices are small, and threads that share
them wait for each other several times as long as one alone takes."""
REFUND_RULES = ("PA", "WI", "OK", "TX", "FL", "CA")

_HOUSE = click.argument("house", metavar="HOUSE", type=click.Path(path_type=Path))
_OUT = click.option("--out", metavar="DIR", type=click.Path(path_type=Path), help="Folder for the files written.")


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, message="reconcile %(version)s")
def cli() -> None:
    """Weigh electric bills against the loads of the house, and say what to do before anyone opens a panel.

    HOUSE is a folder with bills.csv (and, where known, house.toml, loads.csv, weather.csv ...) or one workbook.
    """


@cli.command(short_help="Weigh a house: the main job.")
@click.argument("houses", metavar="HOUSE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@_OUT
@click.option("--json", "as_json", is_flag=True, help="Print the answer as JSON instead of text.")
@click.option("--full", is_flag=True, help="Print everything, not one screen.")
@click.option("--quiet", is_flag=True, help="Print nothing; only write the files.")
@click.option("--summary", metavar="CSV", type=click.Path(path_type=Path), help="Also write a table, one row a house.")
def check(
    houses: tuple[Path, ...], out: Path | None, as_json: bool, full: bool, quiet: bool, summary: Path | None
) -> int:
    """Weigh a house: print the answer, and write report.html, reconciliation.xlsx and result.json.

    The files go to HOUSE.answer beside the house, or to --out. Only the program's own earlier answers are replaced, and
    none that you have changed: then the new answer goes beside it, into HOUSE.answer-2.

    Of several houses each is weighed by itself; one that is refused does not stop the others. With --out, their
    answers go into folders of it.
    """
    from reconcile.report.save import answer_folder

    form = "quiet" if quiet else "json" if as_json else "full" if full else "short"
    folders = [out if out is not None and len(houses) == 1 else answer_folder(house) for house in houses]
    if len(houses) > 1 and out is not None:
        folders = [out / folder.name for folder in folders]
    if len({folder.absolute() for folder in folders}) < len(folders):
        raise click.UsageError("two of these houses have one name, and so one folder for their answer.")
    not_yet_there(summary)
    if len(houses) == 1 and summary is None:
        check_one(houses[0], folders[0], form)
        return 0
    rows, worst = [], 0
    for house, folder in zip(houses, folders, strict=True):
        row, status = check_row(house, folder, form)
        rows.append(row)
        worst = status if worst == 0 else min(worst, status) or worst
    write_table(rows, summary, aloud=form not in SILENT)
    return worst


@cli.command(short_help="Write a starter house.")
@click.argument("place", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--folder", is_flag=True, help="Write CSV and TOML files instead of a workbook.")
def begin(place: Path, folder: bool) -> None:
    """Write a starter house into DIR, a workbook to be filled in with a spreadsheet; with --folder, text files.

    Its examples are never read. Nothing that is already there is overwritten.
    """
    from reconcile.report.starter import house_of, write_starter
    from reconcile.texts.starter_words import NEXT_FILLED, NO_BILLS_YET

    house = str(house_of(place, folder=folder))
    weigh = typed("check", house)
    written = write_starter(place, weigh, folder=folder)
    say_written(written)
    click.echo(f"{NEXT_FILLED.format(file=written[0])}\n  {weigh}\n{NO_BILLS_YET}\n  {typed('estimate', house)}")


@cli.command(short_help="Say what to expect before there are bills.")
@_HOUSE
@_OUT
@click.option("--auditor", metavar="NAME", default="", help="Name for the head of the sheet, as typed.")
@click.option("--license", "--licence", metavar="TEXT", default="", help="License for the head of the sheet, as typed.")
def estimate(house: Path, out: Path | None, auditor: str, license: str) -> None:
    """Say what a house should use in each month, and what its bills should be, from its loads alone.

    With --out, also write one sheet to take along, previsit.html. Nothing there is overwritten.
    """
    from datetime import date

    from reconcile.previsit import estimate as expect
    from reconcile.read import read_house
    from reconcile.report.pages.previsit_sheet import Typed, estimate_text, sheet_html
    from reconcile.report.save import save_new
    from reconcile.texts.estimate_words import NO_LOADS

    read = read_house(house, bills_needed=False)
    if not read.loads:
        raise click.UsageError(NO_LOADS)
    made = expect(read, date.today())
    if out is not None:
        written = save_new({out / "previsit.html": sheet_html(made, Typed(auditor, license)).encode(errors="replace")})
    click.echo(estimate_text(made))
    click.echo("".join(f"\n- {notice}" for notice in read.notices))
    if out is not None:
        say_written(written)


@cli.command(short_help="Print the handbook of typical loads.")
@click.argument("word", required=False)
def loads(word: str | None) -> None:
    """Print the handbook of typical loads, or the ones that WORD may mean."""
    from reconcile.report.pages.handbook_text import handbook_text

    click.echo(handbook_text(word))


@cli.command(short_help="Weigh every house of a folder.")
@click.argument("folder", metavar="FOLDER", type=click.Path(path_type=Path, exists=True, file_okay=False))
@_OUT
@click.option("--summary", metavar="CSV", type=click.Path(path_type=Path), help="Write a table, one row a house.")
@click.option("--json", "as_json", is_flag=True, help="Print a line of JSON a house instead of text.")
@click.option("--quiet", is_flag=True, help="Print nothing; only write the files.")
@click.option(
    "--jobs", type=click.IntRange(1), metavar="N", help="Processes at work; as many as processors if not said."
)
def many(folder: Path, out: Path | None, summary: Path | None, as_json: bool, quiet: bool, jobs: int | None) -> int:
    """Weigh every house of FOLDER, each by itself: a line a house, and how many ended how.

    Houses are its folders, workbooks and files of bills; one that is refused does not stop the others. Nothing is
    written but what --summary and --out name: with --out, report.html, reconciliation.xlsx and result.json of each.
    """
    from reconcile.all_houses import houses_in, in_all, is_one_house, weigh_all

    if is_one_house(folder):
        raise click.UsageError(f"{folder} is one house. Run: {typed('check', str(folder))}")
    not_yet_there(summary)
    houses = houses_in(folder)
    if not houses:
        raise click.UsageError(f"{folder} holds no house: no folder, no workbook, no file of bills.")
    rows, statuses = [], set()
    for told in weigh_all(houses, out, jobs, data=as_json):
        rows.append(told.row)
        statuses.add(told.status)
        if as_json or not quiet:
            say(told.data if as_json else one_line(told.line))
    aloud = not quiet and not as_json
    if aloud:
        say(in_all(rows))
    write_table(rows, summary, aloud=aloud)
    return 1 if 1 in statuses else max(statuses)


@cli.command(short_help="Give a house and read its answer in a browser.")
@click.option(
    "--port", type=click.IntRange(0, 65535), default=0, metavar="N", help="Where; any that is free if not said."
)
@click.option("--no-browser", is_flag=True, help="Open no browser; only say where the page is.")
def page(port: int, no_browser: bool) -> None:
    """Serve a page on this computer on which bills are pasted or chosen, weighed and answered.

    It stands at 127.0.0.1, which no other computer can reach, and ends with Ctrl+C. Nothing is sent anywhere, your
    files are only read, and what you gave is forgotten at the end: keep the answer from the page.
    """
    with doing("Loading"):
        from reconcile.page.serve import serve

    serve(port, browser=not no_browser, say=click.echo)


@cli.command(short_help="Plan a field test, closed covers first.")
@_HOUSE
@_OUT
@click.option(
    "--for",
    "reader",
    type=click.Choice(["householder", "electrician"]),
    default="householder",
    show_default=True,
    help="Whose page and workbook: nobody gets steps that are not theirs.",
)
@click.option("--error", type=float, metavar="PERCENT", help="An error of the meter that the test should detect.")
@click.option("--good-to", type=float, metavar="PERCENT", help="A wanted uncertainty: how long and how often it takes.")
def plan(
    house: Path,
    out: Path | None,
    reader: Literal["householder", "electrician"],
    error: float | None,
    good_to: float | None,
) -> None:
    """Plan a field test for the house, closed covers first: what to do, in which order, and what it could show.

    With --out, also write the page to print and the workbook to fill in. Nothing there is overwritten.
    """
    from reconcile.answer import reconcile
    from reconcile.plan import plan_test
    from reconcile.read import read_house
    from reconcile.report.pages.field_sheet import plan_text, sheet_html
    from reconcile.texts.safety import Reader

    try:
        planned = plan_test(reconcile(read_house(house)), suspected_percent=error, expanded_percent=good_to)
    except ValueError as fault:
        raise click.UsageError(str(fault)) from None
    if reader == "electrician" and not planned.urgent and not planned.has_panel_work:
        raise click.UsageError("the kind of service is not known; write service under [house] in house.toml first.")
    if out is not None:
        from reconcile.report.save import save_new
        from reconcile.report.workbooks.field_workbook import workbook_bytes

        name = "field-test" if reader == "householder" else f"field-test-{reader}"
        written = save_new(
            {
                out / f"{name}.html": sheet_html(planned, reader).encode(),
                out / f"{name}.xlsx": workbook_bytes(planned, reader),
            }
        )
    click.echo(plan_text(planned, reader=Reader.QUALIFIED if reader == "electrician" else Reader.HOUSEHOLDER))
    if out is not None:
        say_written(written)


@cli.command(short_help="Judge the readings of a field test.")
@_HOUSE
@_OUT
def judge(house: Path, out: Path | None) -> None:
    """Judge the readings in field_test.toml: is the meter inside its limits, outside, or can these tools not tell?

    With --out, also write the record for the utility, field-test-record.html.
    """
    from reconcile.meter import judge_test
    from reconcile.read import read_house
    from reconcile.report.pages.field_record import judge_text, record_html
    from reconcile.report.views.interval_view import run_told

    read = read_house(house)
    if read.field_test is None:
        raise click.UsageError("this house has no field_test.toml (or sheet field test) to judge; see: reconcile plan")
    judged = judge_test(read)
    if out is not None:
        from reconcile.report.save import save_page

        written = save_page(record_html(judged, read.field_test, house=read), out / "field-test-record.html")
    by_data = "" if judged.dangers else run_told(read)
    if by_data:
        click.echo(by_data)
    if not by_data or judged.verdict != "not-judged":
        click.echo(judge_text(judged))
    if out is not None:
        say_written([written])


@cli.command(short_help="Find bills in PDFs, to be confirmed.")
@click.argument("files", metavar="PDF...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--out", metavar="FILE", type=click.Path(path_type=Path), help="Where to write the table: a new bills.csv."
)
def printed(files: tuple[Path, ...], out: Path | None) -> None:
    """Find the bills in the text of PDFs, and print a table of them with pages and lines, to be confirmed.

    Compare each row with the bill, correct it, and write yes under confirmed. Nothing is used before.
    """
    from reconcile.read.wrappings.printed_bills import find_printed, table_to_confirm

    table = table_to_confirm([bill for path in files for bill in find_printed(path)])
    if out is None:
        click.echo(table, nl=False)
        return
    from reconcile.report.save import save_new

    say_written(save_new({out: table.encode()}))


@cli.command(short_help="Print a letter to the utility.")
@_HOUSE
@_OUT
@click.option("--rule", type=click.Choice(REFUND_RULES), help="Work out a refund by this published rule.")
@click.option("--docx", is_flag=True, help="With --out, also write letter.docx.")
def letter(house: Path, out: Path | None, rule: str | None, docx: bool) -> None:
    """Print a letter to the utility with the facts of this house, ready to be signed or changed.

    With --out, also write letter.html. Nothing there is overwritten.
    """
    from reconcile.answer import reconcile
    from reconcile.read import read_house
    from reconcile.report.pages.letter_files import letter_files, letter_text, refund_note
    from reconcile.report.save import save_new
    from reconcile.texts.letter_words import NOT_BY_REGISTER, NOT_YET

    if docx and out is None:
        raise click.UsageError("--docx goes with --out, which names the folder.")
    result = reconcile(read_house(house))
    files = {} if out is None else {out / name: data for name, data in letter_files(result, rule, docx=docx).items()}
    written = save_new(files) if files else ()
    click.echo(letter_text(result, rule))
    wanted = {step.code for step in result.verdict.next_steps}
    if wanted & {"run-again", "register-run"}:
        click.echo(NOT_YET if "run-again" in wanted else NOT_BY_REGISTER, err=True)
    if rule is not None:
        click.echo(refund_note(result, rule), err=True)
    if files:
        say_written(written)


def run(arguments: Sequence[str] | None = None) -> int:
    """Run a command line and return its exit status.

    Parameters
    ----------
    arguments : sequence of str, optional
        Those of the process where not given.

    Returns
    -------
    int
        0, 1 or 2.
    """
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:  # closed before the program began
            setattr(sys, name, io.StringIO())
        if hasattr(getattr(sys, name), "reconfigure"):
            getattr(sys, name).reconfigure(errors="replace")  # a terminal without ± still gets its answer
    try:
        status = cli.main(args=arguments, prog_name="reconcile", standalone_mode=False)
        sys.stdout.flush()
    except click.ClickException as error:
        error.show()
        return 2
    except click.Abort:
        click.echo("Stopped.", err=True)
        return 1
    except BrokenPipeError:
        print_no_more()  # whoever reads has enough: the work was done
        return 0
    except SystemExit:  # click's own way out of a broken pipe, and of what completes a command line
        if not type(sys.stdout).__name__.endswith("PacifyFlushWrapper"):
            raise
        print_no_more()
        return 0
    except Exception as error:
        if isinstance(error, OSError) and error.filename is None and error.errno in CANNOT_PRINT:
            print_no_more()
            click.echo(f"The answer cannot be printed ({error.strerror}).", err=True)
            return 2
        if os.environ.get(RAISE):
            raise
        return explain(error)
    return status if isinstance(status, int) else 0


def main() -> None:
    """Entry point of the program."""
    gc.set_threshold(COLLECTED_EVERY)
    for name in ONE_THREAD:
        os.environ.setdefault(name, "1")
    sys.exit(run())

"""The local page as a browser uses it: over HTTP, on this computer alone, and nothing of what was given is lost."""

from __future__ import annotations

import http.client
import io
import json
import re
import signal
import subprocess
import sys
import threading
import tomllib
import zipfile
from collections.abc import Iterator, Sequence
from html import unescape
from pathlib import Path

import pytest
import uvicorn

from reconcile.house import House
from reconcile.page.app import LARGEST, LARGEST_TEXT, MOST_FILES, make_app
from reconcile.page.given import Given, as_files, own_name, settings_toml
from reconcile.page.serve import HERE, listening_at
from reconcile.page.visits import Visits
from reconcile.read import read_house

SAMPLES = Path(__file__).parents[2] / "sample_bills"
BILLS = (
    "Jan 3, 2025 - Feb 4, 2025   812 kWh  $131.40\nFeb 4, 2025 - Mar 5, 2025  702 kWh $113.20\n"
    "Mar 5, 2025 - Apr 4, 2025   640 kWh $104.11\n"
)
Part = tuple[str, str] | tuple[str, str, bytes]
"""A field of a form with its value, or with the name and the content of a file."""


class Visitor:
    """A browser's part: asks one page for another, and sends forms as browsers do."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.home = f"http://{HERE}:{port}"

    def ask(self, method: str, path: str, body: bytes = b"", **headers: str) -> tuple[int, dict[str, str], bytes]:
        line = http.client.HTTPConnection(HERE, self.port, timeout=60)
        line.request(method, path, body, {"Host": f"{HERE}:{self.port}", **headers})
        answer = line.getresponse()
        content = answer.read()
        line.close()
        return answer.status, {name.lower(): value for name, value in answer.getheaders()}, content

    def get(self, path: str) -> tuple[int, dict[str, str], bytes]:
        return self.ask("GET", path)

    def send(self, *parts: Part, **headers: str) -> tuple[int, dict[str, str], bytes]:
        edge = b"edge-of-a-part"
        body = b""
        for name, value, *content in parts:
            what = f'form-data; name="{name}"'
            if content:
                what += f'; filename="{value}"'
            body += b"--" + edge + f"\r\nContent-Disposition: {what}\r\n\r\n".encode()
            body += (content[0] if content else value.encode()) + b"\r\n"
        kind = {"Content-Type": f"multipart/form-data; boundary={edge.decode()}", "Origin": self.home}
        return self.ask("POST", "/weigh", body + b"--" + edge + b"--\r\n", **(kind | headers))

    def weighed(self, *parts: Part) -> str:
        status, headers, content = self.send(*parts)
        assert status == 303, re.findall(r"<li>.*", content.decode())
        return headers["location"]


@pytest.fixture(scope="module")
def visitor(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visitor]:
    with listening_at(0) as listening:
        port = listening.getsockname()[1]
        folder = tmp_path_factory.mktemp("page")
        server = uvicorn.Server(uvicorn.Config(make_app(folder, port), log_level="warning", lifespan="off"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        yield Visitor(port)
        server.should_exit = True
        thread.join(20)
        assert not list(folder.iterdir())  # what was given lies there only while it is read


def problems(content: bytes) -> list[str]:
    found = re.search(r'<section class="danger" role="alert">(.*?)</section>', content.decode(), re.DOTALL)
    return [unescape(line) for line in re.findall(r"<li>(.*?)</li>", found[1], re.DOTALL)] if found else []


def field(content: bytes, name: str) -> str:
    found = re.search(rf'<textarea name="{name}"[^>]*>\n(.*?)</textarea>', content.decode(), re.DOTALL)
    assert found
    return unescape(found[1])


def test_bills_that_are_pasted_are_weighed_and_all_of_the_answer_can_be_kept(visitor: Visitor) -> None:
    place = visitor.weighed(("bills", BILLS), ("loads", "refrigerator 150 W\nelectric dryer"), ("occupants", "3"))
    status, headers, content = visitor.get(place)
    assert status == 200
    assert b"<nav" in content
    assert headers["cache-control"] == "no-store"
    assert "default-src 'none'" in headers["content-security-policy"]
    told = json.loads(visitor.get(f"{place}/result.json")[2])
    assert [period["billed_kwh"] for period in told["periods"]] == [812.0, 702.0, 640.0]
    page = visitor.get(f"{place}/report.html")[2].decode()
    assert "<nav" not in page  # what is kept is what the command writes
    assert told["verdict"]["headline"] in unescape(page).replace("\xa0", " ")
    for name, begins in (("reconciliation.xlsx", b"PK"), ("letter.html", b"<!"), ("field-test.html", b"<!")):
        status, headers, content = visitor.get(f"{place}/{name}")
        assert (status, content[:2]) == (200, begins), name
    links = re.findall(r'href="(/[^"]*)"', visitor.get(place)[2].decode())
    assert [visitor.get(link)[0] for link in links] == [200] * 8


def test_what_was_given_is_a_house_that_the_command_reads(visitor: Visitor, tmp_path: Path) -> None:
    place = visitor.weighed(
        ("bills", BILLS), ("occupants", "3"), ("name", 'The "mill"'), ("events", "2025-02-10 guests")
    )
    kept = visitor.get(f"{place}/house.zip")[2]
    zipfile.ZipFile(io.BytesIO(kept)).extractall(tmp_path)
    house = read_house(tmp_path / "house")
    assert (house.name, house.occupants, len(house.bills), len(house.events)) == ('The "mill"', 3, 3, 1)


def test_files_of_any_name_stand_where_they_were_given(visitor: Visitor) -> None:
    sample = SAMPLES / "cold_winter"
    parts = [
        (f"file-{name}", f"my {name} (2).csv", (sample / f"{name}.csv").read_bytes()) for name in ("bills", "loads")
    ]
    parts += [("file-other", "house.toml", (sample / "house.toml").read_bytes())]
    parts += [("file-weather", "", b"")]  # a browser sends this where nothing was chosen
    told = json.loads(visitor.get(f"{visitor.weighed(*parts)}/result.json")[2])
    assert len(told["periods"]) == len(read_house(sample).bills)
    assert len(told["loads"]) >= len(read_house(sample).loads)


def test_a_fault_is_told_and_nothing_that_was_given_is_lost(visitor: Visitor) -> None:
    bad = BILLS + "Apr 4, 2025 - Apr 31, 2025  600 kWh\n"
    status, _, content = visitor.send(
        ("bills", bad),
        ("file-loads", "list.csv", b"load,watts,run_hours\nlamp,60,x\n"),
        ("occupants", "4"),
        ("danger", "no such"),
    )
    assert status == 422
    told = problems(content)
    assert any(line.startswith("Bills, as typed, row 4") for line in told), told
    assert any(line.startswith("loads.csv, row 2, column run_hours") for line in told), told
    assert field(content, "bills") == bad
    assert b'name="occupants" value="4"' in content
    kept = re.search(rb'name="kept" value="([^"]+)"', content)
    assert kept
    again = (("kept", kept[1].decode()), ("keep", "loads/list.csv"), ("bills", BILLS))
    assert any(line.startswith("loads.csv") for line in problems(visitor.send(*again)[2]))
    left_out = visitor.weighed(*again[::2])
    assert json.loads(visitor.get(f"{left_out}/result.json")[2])["periods"]
    assert field(visitor.get(f"{left_out}/change")[2], "bills") == BILLS


def test_a_sign_of_danger_needs_no_bills_to_stop(visitor: Visitor) -> None:
    place = visitor.weighed(("bills", BILLS), ("danger", "buzzing"))
    assert json.loads(visitor.get(f"{place}/result.json")[2])["verdict"]["decision"] == "urgent"
    assert visitor.get(f"{place}/field-test.html")[0] == 200
    content = visitor.send(("danger", "burning_smell"))[2]
    assert any("smell" in line for line in problems(content)), problems(content)


def test_what_can_be_asked_by_a_field_is(visitor: Visitor) -> None:
    either = "01/03/2025 - 02/04/2025 812 kWh\n02/04/2025 - 03/05/2025 702 kWh\n"
    status, _, content = visitor.send(("bills", either))
    assert status == 422
    assert b"is asked here" in content
    assert b"<details open>" in content
    told = json.loads(
        visitor.get(visitor.weighed(("bills", either), ("date_format", "DD/MM/YYYY")) + "/result.json")[2]
    )
    assert [period["start"] for period in told["periods"]] == ["2025-03-01", "2025-04-02"]


@pytest.mark.parametrize("nothing", [(), (("bills", "  \n"), ("loads", ""))])
def test_nothing_given_is_said(visitor: Visitor, nothing: Sequence[Part]) -> None:
    status, _, content = visitor.send(*nothing)
    assert (status, problems(content)) == (
        422,
        ["There is nothing to weigh yet. Paste some bills, or choose a file of them."],
    )


def test_a_printed_bill_is_shown_to_be_confirmed_and_not_used_before(visitor: Visitor) -> None:
    canvas = pytest.importorskip("reportlab.pdfgen.canvas")
    pytest.importorskip("pypdf")
    drawn = io.BytesIO()
    sheet = canvas.Canvas(drawn)
    for n, line in enumerate(
        ("Service from 01/03/2025 to 01/31/2025", "Energy used 812 kWh", "Current charges $131.40")
    ):
        sheet.drawString(60, 780 - 16 * n, line)
    sheet.save()
    status, _, content = visitor.send(("file-bills", "january.pdf", drawn.getvalue()))
    assert status == 200
    table = field(content, "bills")
    assert "812" in table
    assert b"Compare each with the bill" in content
    status, _, content = visitor.send(("bills", table))
    assert status == 422
    assert any("confirm" in line for line in problems(content)), problems(content)


def test_only_the_page_itself_is_answered(visitor: Visitor) -> None:
    assert visitor.ask("GET", "/", Host="bills.example")[0] == 403
    assert visitor.ask("GET", "/", Host=f"{HERE}:1")[0] == 403
    assert visitor.send(("bills", BILLS), Origin="http://bills.example")[0] == 403
    assert visitor.send(("bills", BILLS), Origin="null")[0] == 403
    assert visitor.ask("PUT", "/weigh", Origin=visitor.home)[0] == 405
    assert visitor.ask("GET", "/", Host=f"localhost:{visitor.port}")[0] == 200


@pytest.mark.parametrize(
    "path", ["/answer/nothing", "/answer/nothing/result.json", "/nowhere", "/answer/%2e%2e/change"]
)
def test_what_is_not_there_is_said(visitor: Visitor, path: str) -> None:
    status, _, content = visitor.get(path)
    assert status == 404
    assert b"<form" in content


def test_more_than_anybody_has_is_refused_and_the_page_stays(visitor: Visitor) -> None:
    line = http.client.HTTPConnection(HERE, visitor.port, timeout=60)
    line.putrequest("POST", "/weigh")
    for name, value in (
        ("Origin", visitor.home),
        ("Content-Type", "multipart/form-data; boundary=b"),
        ("Content-Length", str(LARGEST + 1)),
    ):
        line.putheader(name, value)
    line.endheaders()
    assert line.getresponse().status == 413
    line.close()
    assert visitor.get("/")[0] == 200


@pytest.mark.parametrize(
    ("name", "kept"),
    [("../../x.csv", "x.csv"), ("C:\\bills\\a.csv", "a.csv"), ("", "file"), ("..", "file"), ("a\x00\nb.csv", "ab.csv")],
)
def test_a_name_never_leaves_the_folder(name: str, kept: str) -> None:
    assert own_name(name) == kept


def test_a_name_is_never_longer_than_a_file_system_takes() -> None:
    assert len(own_name("電" * 300 + ".csv").encode()) <= 255
    assert own_name("電" * 300 + ".csv").endswith("電.csv")
    assert own_name("x" * 10 + "." * 194 + "bills.csv") == "bills.csv"  # what is cut off leaves no hidden file


def test_two_files_of_one_name_are_two_files(visitor: Visitor) -> None:
    head, rows = "start,end,kwh\n", ("2025-01-03,2025-02-04,812", "2025-02-04,2025-03-05,702")
    place = visitor.weighed(*(("file-bills", "bill.csv", f"{head}{row}\n".encode()) for row in rows))
    told = json.loads(visitor.get(f"{place}/result.json")[2])
    assert [period["billed_kwh"] for period in told["periods"]] == [812.0, 702.0]


def test_a_file_may_be_called_as_the_folder_of_interval_data(visitor: Visitor) -> None:
    hours = "time,kwh\n" + "".join(f"2025-01-03 {hour:02}:00,1\n" for hour in range(24))
    parts = (("bills", BILLS), ("file-other", "interval", b"x"), ("file-interval", "a.csv", hours.encode()))
    assert visitor.send(*parts)[0] in (303, 422)


def test_what_is_kept_of_all_visits_is_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("reconcile.page.visits.MOST_HELD", 100)
    visits = Visits(tmp_path)
    one, same = (visits.keep(Given(files={"bills/a.csv": content})) for content in [b"a" * 60] * 2)
    assert visits.get(one.token)  # the same bytes are held once
    large = visits.keep(Given(files={"bills/a.csv": b"b" * 200}))
    assert visits.get(large.token)
    assert not visits.get(one.token)
    assert not visits.get(same.token)


def test_the_files_of_before_count_too(visitor: Visitor, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("reconcile.page.app.LARGEST", 3000)
    content = visitor.send(("file-other", "a.csv", b"x" * 2000), ("bills", "?"))[2]
    kept = re.search(rb'name="kept" value="([^"]+)"', content)
    assert kept
    again = (("kept", kept[1].decode()), ("keep", "other/a.csv"), ("file-other", "b.csv", b"x" * 2000), ("bills", "?"))
    assert visitor.send(*again)[0] == 413


def test_while_one_house_is_weighed_another_is_answered(visitor: Visitor, monkeypatch: pytest.MonkeyPatch) -> None:
    begun, go_on = threading.Event(), threading.Event()

    def slow(house: Path) -> House:
        begun.set()
        assert go_on.wait(20)
        return read_house(house)

    monkeypatch.setattr("reconcile.page.visits.read_house", slow)
    first = threading.Thread(target=visitor.send, args=[("bills", BILLS)])
    second = threading.Thread(target=visitor.send, args=[("bills", BILLS)])
    try:
        first.start()
        assert begun.wait(20)
        second.start()
        second.join(0.2)
        line = http.client.HTTPConnection(HERE, visitor.port, timeout=5)
        line.request("GET", "/", headers={"Host": f"{HERE}:{visitor.port}"})
        assert line.getresponse().status == 200
    finally:
        go_on.set()
        first.join()
        second.join()
        line.close()


@pytest.mark.parametrize(
    "parts",
    [
        [("bills", "x" * (LARGEST_TEXT + 1))],
        [("file-interval", f"{n}.csv", b"x") for n in range(MOST_FILES + 1)],
    ],
)
def test_more_files_or_letters_than_are_taken_are_told_on_the_page(visitor: Visitor, parts: list[Part]) -> None:
    status, _, content = visitor.send(*parts)
    assert status == 413
    assert problems(content)[0].startswith("That is more than this page takes at once")


def test_what_is_not_yet_answered_has_no_files(visitor: Visitor) -> None:
    both = (("bills", BILLS), ("file-bills", "a.csv", b"x"))
    kept = re.search(rb'name="kept" value="([^"]+)"', visitor.send(*both)[2])
    assert kept
    assert visitor.get(f"/answer/{kept[1].decode()}/house.zip")[0] == 404


@pytest.mark.parametrize(("typed", "kept"), [("08.50", 8.5), ("-3.0", -3.0), ("007", 7)])
def test_a_number_is_a_number_however_it_is_typed(typed: str, kept: float) -> None:
    settings = {"coldest_month_mean": typed}
    assert tomllib.loads(settings_toml(Given(settings=settings)))["site"]["coldest_month_mean"] == kept


def test_digits_of_another_script_are_no_broken_file() -> None:
    assert tomllib.loads(settings_toml(Given(settings={"floor_area": "٣.٥"})))


def test_given_twice_is_asked() -> None:
    with pytest.raises(ValueError, match=r"(?s)the bills were typed.*house\.toml"):
        as_files(Given({"bills": BILLS}, {"occupants": "2"}, (), {"bills/a.csv": b"x", "other/house.toml": b""}))


def test_the_command_says_where_it_stands_and_ends_when_it_is_told() -> None:
    command = [sys.executable, "-m", "reconcile", "page", "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True) as run:
        assert run.stdout
        found = re.search(r"http://127\.0\.0\.1:(\d+)/", run.stdout.readline())
        assert found
        assert Visitor(int(found[1])).get("/")[0] == 200
        taken = subprocess.run([*command, "--port", found[1]], capture_output=True, text=True, check=False)
        assert taken.returncode == 2
        assert f"port {found[1]} is taken" in taken.stderr
        run.send_signal(signal.SIGINT)
        assert run.wait(60) == 0
        assert run.stdout.read() == ""

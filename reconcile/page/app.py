"""The local page over HTTP: only for the browser of this computer, and only for what the page itself asks."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Route

from reconcile.errors import Fault, InputError, ReconcileError
from reconcile.house import DANGERS
from reconcile.page.given import SETTINGS, SLOTS, TYPED, Given, is_printed, local_timezone, own_name
from reconcile.page.visits import Visit, Visits, zipped
from reconcile.report.pages.html import render
from reconcile.report.pages.letter_files import letter_files
from reconcile.report.pages.local_page import Form, form_html, links_above
from reconcile.texts import local_words as words

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST = 200_000_000
"""Bytes of all that comes at once: many years of minutes (a guard, our choice)."""
MOST_FILES = 400
"""Files at once: a year of one a day, and some (a guard, our choice)."""
LARGEST_TEXT = 2_000_000
"""Letters of one field: more bills than anybody pastes (a guard, our choice)."""
HEADERS = (
    (b"cache-control", b"no-store"),
    (b"referrer-policy", b"same-origin"),
    (b"x-content-type-options", b"nosniff"),
    (
        b"content-security-policy",
        b"default-src 'none'; img-src data:; style-src 'unsafe-inline'; form-action 'self'; base-uri 'none'; "
        b"frame-ancestors 'none'",
    ),
)
"""No page is kept by the browser, shown inside another, or loads anything."""
KINDS = {".html": "text/html; charset=utf-8", ".json": "application/json", ".zip": "application/zip"}
WORKBOOK_KIND = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class OnlyFromHere:
    """Lets through what the program's own page asks of this computer's own address, and no more than so much at once.

    A page of another site may send a form here, or come under a name that leads here: its ``Origin`` or ``Host`` tells.

    Parameters
    ----------
    app : ASGI application
        What answers.
    port : int
        Where the page stands.
    """

    def __init__(self, app: ASGIApp, port: int) -> None:
        self._app = app
        self._hosts = {f"{name}:{port}".encode() for name in ("127.0.0.1", "localhost")}
        self._origins = {b"http://" + host for host in self._hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or refuse to."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = dict(scope["headers"])
        own = headers.get(b"host") in self._hosts
        asked_here = scope["method"] in ("GET", "HEAD") or headers.get(b"origin", b"") in self._origins
        if not (own and asked_here):
            await Response(words.NOT_FROM_HERE, 403)(scope, receive, send)
            return
        stated = headers.get(b"content-length", b"0")
        if not stated.isdigit() or int(stated) > LARGEST:
            await _too_much()(scope, receive, headed(send))
            return
        come = 0

        async def counted() -> Message:
            nonlocal come
            message = await receive()
            come += len(message.get("body", b""))
            if come > LARGEST:  # of one that does not state its length
                raise HTTPException(413)
            return message

        await self._app(scope, counted, headed(send))


def headed(send: Send) -> Send:
    """Return what sends an answer with :data:`HEADERS`."""

    async def sends(message: Message) -> None:
        if message["type"] == "http.response.start":
            message = {**message, "headers": [*message["headers"], *HEADERS]}
        await send(message)

    return sends


def make_app(folder: Path, port: int) -> ASGIApp:
    """Return the application.

    Parameters
    ----------
    folder : Path
        Empty and the program's own.
    port : int
        Where it will stand.
    """
    visits = Visits(folder)
    routes = [
        Route("/", _first),
        Route("/weigh", _weigh, methods=["POST"]),
        Route("/answer/{token}", _answer),
        Route("/answer/{token}/{name}", _file),
    ]
    app = Starlette(
        routes=routes,
        # 400 is what a form of more files or letters than are taken ends in
        exception_handlers={400: _too_much, 404: _no_such, 413: _too_much, ClientDisconnect: _left, Exception: _broken},
    )
    app.state.visits = visits
    return OnlyFromHere(app, port)


async def _first(request: Request) -> Response:
    return HTMLResponse(form_html(Form(settings={"timezone": local_timezone()})))


async def _weigh(request: Request) -> Response:
    visits: Visits = request.app.state.visits
    async with request.form(max_files=MOST_FILES, max_fields=MOST_FILES, max_part_size=LARGEST_TEXT) as form:
        before = visits.get(str(form.get("kept", "")))
        given = await _given(form, before)
    if given.bytes > LARGEST:  # with the files of before
        return _too_much()
    visit = visits.keep(given)
    if given.empty:
        return _form(visit, [words.NOTHING])
    try:
        if any(map(is_printed, given.files)):
            visit = visits.keep(await run_in_threadpool(visits.to_confirm, given))
            return _form(visit, [], said=words.TO_CONFIRM)
        await run_in_threadpool(visits.weigh, visit)
    except InputError as error:
        return _form(visit, [_told(fault) for fault in error.faults])
    except ReconcileError as error:
        return _form(visit, [str(error)])
    except Exception as error:
        return _form(visit, [words.BROKEN.format(what=type(error).__name__)], 500)
    return RedirectResponse(f"/answer/{visit.token}", 303)


async def _given(form: FormData, before: Visit | None) -> Given:
    """Return what the form holds, with the files of before that are still wanted."""
    chosen: dict[str, bytes] = {}
    for slot in SLOTS:
        for upload in form.getlist(f"file-{slot}"):
            if isinstance(upload, UploadFile) and upload.filename:
                chosen[_own_place(slot, own_name(upload.filename), chosen)] = await upload.read()
    wanted = {str(path) for path in form.getlist("keep")}
    kept = {} if before is None else before.given.files
    # what is chosen anew takes the place of a file of before
    files = {path: content for path, content in kept.items() if path in wanted} | chosen
    fields = {name: value for name, value in form.items() if isinstance(value, str)}
    return Given(
        {name: fields.get(name, "") for name in TYPED},
        {name: fields.get(name, "") for name in SETTINGS},
        tuple(sign for sign in form.getlist("danger") if isinstance(sign, str) and sign in DANGERS),
        files,
    )


def _own_place(slot: str, name: str, taken: Collection[str]) -> str:
    """Return the slot and the name of a file; one whose name another of the same form has too gets a number."""
    stem, dot, ending = name.partition(".")
    names = (name, *(f"{stem} ({n}){dot}{ending}" for n in range(2, MOST_FILES + 1)))
    return next(place for each in names if (place := f"{slot}/{each}") not in taken)


def _told(fault: Fault) -> str:
    return str(replace(fault, file=words.AS_TYPED.get(fault.file, fault.file)))


def _form(visit: Visit, problems: list[str], status: int = 422, said: str = "") -> Response:
    given = visit.given
    form = Form(given.typed, given.settings, given.dangers, visit.token, tuple(given.files), problems, said)
    return HTMLResponse(form_html(form), status if problems else 200)


async def _answer(request: Request) -> Response:
    visits: Visits = request.app.state.visits
    visit = visits.get(request.path_params["token"])
    if visit is None or visit.result is None:
        return _gone()
    result = visit.result
    page = await run_in_threadpool(visits.made, lambda: render(result).encode(errors="replace"))
    return HTMLResponse(links_above(page.decode(), f"/answer/{visit.token}"))


async def _file(request: Request) -> Response:
    visits: Visits = request.app.state.visits
    visit, name = visits.get(request.path_params["token"]), request.path_params["name"]
    if visit is None:
        return _gone()
    if name == "change":
        return _form(visit, [])
    make = _makers(visit).get(name)
    if make is None:
        raise HTTPException(404)
    content = await run_in_threadpool(visits.made, make)
    shown = name in ("letter.html", "field-test.html")
    kind = KINDS.get(Path(name).suffix, WORKBOOK_KIND)
    return Response(
        content, media_type=kind, headers={} if shown else {"content-disposition": f'attachment; filename="{name}"'}
    )


def _makers(visit: Visit) -> dict[str, Callable[[], bytes]]:
    """Return how each file of a visit is made, by its name."""
    result = visit.result
    if result is None:
        return {}

    def workbook() -> bytes:
        from reconcile.report.workbooks.answer_workbook import workbook_bytes

        return workbook_bytes(result)

    def plan() -> bytes:
        from reconcile.plan import plan_test
        from reconcile.report.pages.field_sheet import sheet_html

        return sheet_html(plan_test(result), "householder").encode(errors="replace")

    def data() -> bytes:
        return json.dumps(result.to_dict(), indent=1, ensure_ascii=False, allow_nan=False).encode(errors="replace")

    return {
        "house.zip": lambda: zipped(visit.given),
        "report.html": lambda: render(result).encode(errors="replace"),
        "reconciliation.xlsx": workbook,
        "result.json": data,
        "letter.html": lambda: letter_files(result)["letter.html"],
        "field-test.html": plan,
    }


def _gone() -> Response:
    return HTMLResponse(form_html(Form(said=words.GONE)), 404)


def _no_such(*_: object) -> Response:
    return HTMLResponse(form_html(Form(said=words.NO_SUCH)), 404)


def _too_much(*_: object) -> Response:
    told = words.TOO_MUCH.format(megabytes=LARGEST // 1_000_000, files=MOST_FILES, letters=LARGEST_TEXT)
    return HTMLResponse(form_html(Form(problems=[told])), 413)


def _left(*_: object) -> Response:
    """Answer to a browser that has gone before it had sent all."""
    return Response(status_code=400)


def _broken(_: Request, error: Exception) -> Response:
    return HTMLResponse(form_html(Form(problems=[words.BROKEN.format(what=type(error).__name__)])), 500)

"""The pages, by their addresses: who asks for what, and in which thread it is made.

The making is the agent's (``Site``); each piece of it runs in a thread of its kind, so that a slow page
holds up neither the metrics nor the next request.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from gzip import compress
from typing import Protocol
from urllib.parse import quote

from prometheus_client.exposition import gzip_accepted
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response, StreamingResponse
from starlette.routing import Route

from agent.outlets import typed
from agent.outlets.notices.ack import AlarmId
from agent.outlets.templating import page
from agent.outlets.times import iso
from agent.outlets.web import asked
from agent.outlets.web.connections import MOST_CONNECTIONS
from agent.outlets.web.safety import Guard, Wrongs, address_of, said, too_many
from agent.outlets.web.workers import BusyError, Workers
from agent.settings import UnknownModuleError
from agent.settings.http import HttpSettings

MOST_FORM_BYTES = 8192
ZIP_LEVEL = 1  # a higher one takes long, and makes the text little smaller
NO_TOKEN = (
    "History is given to who shows a token, and this agent has none: "
    "state token_env or token_file under http in its configuration."
)
READINGS_SINCE = "dewline-readings-since"  # RFC 3339, UTC
OPEN = "open"  # the outcome that shows a form
OUTCOMES = {
    OPEN: 200,
    "done": 200,
    "waiting": 202,
    "forbidden": 403,
    "unknown": 404,
    "refused": 409,
    "expired": 410,
}
_SENTENCES = {
    404: "There is no such page here.",
    405: "This page is not asked in that way; Allow says how.",
    413: f"A form has no more than {MOST_FORM_BYTES} bytes.",
}


class Acknowledged(Protocol):
    """What became of an acknowledgement: a key of OUTCOMES, and what to say of it."""

    @property
    def outcome(self) -> str: ...
    @property
    def text(self) -> str: ...


class Site(Protocol):
    """What the server asks of the agent. Each call comes from a thread of the server."""

    def status(self, *, still: bool) -> str:
        """The status page, as HTML. ``still``: it does not make itself anew."""

    def visit(self, system: str, module: str, since_us: int | None) -> str:
        """The brief of the last ``since_us`` µs, as HTML. Raises UnknownModuleError."""

    def history(self, system: str, module: str, from_us: int, to_us: int, readings: bool) -> Iterator[str]:
        """CSV in pieces, the header row first. Raises UnknownModuleError."""

    def kept_from_us(self) -> int | None:
        """Since when every reading is kept; None: none was ever removed."""

    def acknowledgeable(self, alarm_id: str, token: str) -> Acknowledged:
        """Whether an alarm waits for somebody to say so, with the token of its notice. Changes nothing."""

    def acknowledge(self, alarm_id: str, token: str, who: str, note: str) -> Acknowledged:
        """Say that somebody sees to an alarm, with the token of its notice."""

    def not_ready(self) -> list[str]:
        """Why the agent does not do its work now, in sentences; empty: it does."""


def app(
    site: Site,
    metrics: Callable[[str], tuple[bytes, str]],
    http: HttpSettings,
    token: str | None,
    clock: Callable[[], int],
) -> Starlette:
    """The whole server. ``metrics``: for an Accept header, the text and its type. ``clock``: µs of UTC."""
    wrongs = Wrongs()
    pages = _Pages(site, metrics, token is not None, clock, wrongs)
    routes = [
        Route("/healthz", _alive),
        Route("/readyz", pages.ready),
        Route("/metrics", pages.metrics),
        Route("/", pages.status),
        Route("/visit/{system}/{module}", pages.visit),
        Route("/history/{system}/{module}.csv", pages.history),
        Route("/alarms/{alarm_id}", pages.acknowledging),
        Route("/alarms/{alarm_id}/ack", pages.acknowledging),
        Route("/alarms/{alarm_id}/ack", pages.acknowledge, methods=["POST"]),
    ]
    made = Starlette(
        routes=routes,
        middleware=[Middleware(Guard, http=http, token=token, wrongs=wrongs)],
        exception_handlers={HTTPException: _refused, BusyError: _busy, UnknownModuleError: _unknown},
        lifespan=pages.lifespan,
    )
    made.router.redirect_slashes = False
    return made


class _Pages:
    def __init__(
        self,
        site: Site,
        metrics: Callable[[str], tuple[bytes, str]],
        has_token: bool,
        clock: Callable[[], int],
        wrongs: Wrongs,
    ) -> None:
        self._site = site
        self._metrics = metrics
        self._has_token = has_token
        self._clock = clock
        self._wrongs = wrongs
        self._scrapes = Workers("metrics", threads=1, most_waiting=8)
        self._ready = Workers("ready", threads=1, most_waiting=8)
        self._status = Workers("page", threads=1, most_waiting=16)
        self._alarms = Workers("ack", threads=2, most_waiting=16)
        self._long = Workers("brief", threads=1, most_waiting=4)
        self._past = Workers("history", threads=1, most_waiting=MOST_CONNECTIONS)  # begun, it is not refused

    @asynccontextmanager
    async def lifespan(self, _: Starlette) -> AsyncIterator[None]:
        yield
        for workers in (self._scrapes, self._ready, self._status, self._alarms, self._long, self._past):
            workers.close()

    async def metrics(self, request: Request) -> Response:
        zipped = gzip_accepted(request.headers.get("accept-encoding", ""))

        def scrape() -> tuple[bytes, str]:
            text, kind = self._metrics(request.headers.get("accept", ""))
            return compress(text, ZIP_LEVEL) if zipped else text, kind

        body, kind = await self._scrapes.do(scrape)
        headers = {"content-type": kind, "vary": "Accept, Accept-Encoding"}
        return Response(body, headers=headers | ({"content-encoding": "gzip"} if zipped else {}))

    async def ready(self, request: Request) -> Response:
        reasons = await self._ready.do(self._site.not_ready)
        return said(503, "\n".join(["not ready", *reasons])) if reasons else said(200, "ready")

    async def status(self, request: Request) -> Response:
        still = "still" in request.query_params
        return HTMLResponse(await self._status.do(lambda: self._site.status(still=still)))

    async def visit(self, request: Request) -> Response:
        try:
            since_us = asked.visit_span(request.query_params)
        except ValueError as error:
            return said(400, str(error))
        module = _module(request)
        return HTMLResponse(await self._long.do(lambda: self._site.visit(*module, since_us)))

    async def history(self, request: Request) -> Response:
        """CSV. Of readings from before what is kept, a field of the head says since when they are there."""
        if not self._has_token:
            return said(403, NO_TOKEN)
        try:
            past = asked.past(request.query_params, self._clock())
        except ValueError as error:
            return said(400, str(error))
        system, module = _module(request)
        pieces = await self._past.do(
            lambda: self._site.history(system, module, past.from_us, past.to_us, past.readings)
        )
        kept_us = await self._past.do(self._site.kept_from_us) if past.readings else None
        since = {} if kept_us is None or kept_us <= past.from_us else {READINGS_SINCE: iso(kept_us)}
        name = f"{system}-{module}-{asked.WHAT[past.readings]}"
        return StreamingResponse(
            self._pieces(pieces) if request.method == "GET" else iter(()),
            media_type="text/csv; charset=utf-8",
            headers={"content-disposition": f'attachment; filename="{name}.csv"', **since},
        )

    async def _pieces(self, pieces: Iterator[str]) -> AsyncIterator[str]:
        while (piece := await self._past.do(lambda: next(pieces, None))) is not None:
            yield piece

    async def acknowledging(self, request: Request) -> Response:
        """A button, or why there is none. Looking changes nothing: mail scanners follow links."""
        alarm_id = request.path_params["alarm_id"]
        token = request.query_params.get("token", "")
        found = await self._alarms.do(lambda: self._site.acknowledgeable(alarm_id, token))
        return self._guessed(request, found) or self._told(request, found, token)

    async def acknowledge(self, request: Request) -> Response:
        alarm_id = request.path_params["alarm_id"]
        try:
            kind = request.headers.get("content-type", "")
            words = asked.words(await _form(request), kind, request.query_params)
        except ValueError as error:
            return said(400, str(error))
        done = await self._alarms.do(lambda: self._site.acknowledge(alarm_id, *words))
        if (refusal := self._guessed(request, done)) is not None:
            return refusal
        if "text/html" in request.headers.get("accept", ""):
            return self._told(request, done, words.token)
        return said(OUTCOMES[done.outcome], done.text)

    def _told(self, request: Request, what: Acknowledged, token: str) -> Response:
        """The page of an alarm that is to be acknowledged, or was."""
        alarm_id = request.path_params["alarm_id"]
        at_end = request.url.path.endswith("/ack")
        action = "ack" if at_end else f"{quote(alarm_id, safe='')}/ack"
        known = AlarmId.read(alarm_id) if what.outcome not in ("forbidden", "expired", "unknown") else None
        text = page(
            "web",
            "ack.html",
            alarm=_called(alarm_id),
            told=what.text,
            action=action if what.outcome == OPEN else None,
            token=token,
            longest=typed.LONGEST,
            brief=f"{'../..' if at_end else '..'}/visit/{known.path.local}" if known else None,
        )
        return HTMLResponse(text, OUTCOMES[what.outcome])

    def _guessed(self, request: Request, what: Acknowledged) -> Response | None:
        """Who guesses tokens is refused before long, and nobody else from there."""
        if what.outcome != "forbidden":
            return None
        address = address_of(request.scope)
        if self._wrongs.too_many(address):
            return too_many()
        self._wrongs.add(address)
        return None


async def _form(request: Request) -> bytes:
    form = b""
    async for part in request.stream():
        form += part
        if len(form) > MOST_FORM_BYTES:
            raise HTTPException(413)
    return form


async def _alive(request: Request) -> Response:
    return said(200, "ok")


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    sentence = _SENTENCES.get(error.status_code, error.detail)
    return said(error.status_code, sentence, dict(error.headers or {}))


async def _busy(request: Request, error: Exception) -> Response:
    return said(503, "The agent is busy with other pages; try again in some seconds.", {"retry-after": "5"})


async def _unknown(request: Request, error: Exception) -> Response:
    return said(404, str(error))


def _called(alarm_id: str) -> str:
    """What people call it; of an id that is none, what was asked for."""
    known = AlarmId.read(alarm_id)
    return alarm_id if known is None else f"{known.alarm} at {known.path}"


def _module(request: Request) -> tuple[str, str]:
    return request.path_params["system"], request.path_params["module"]

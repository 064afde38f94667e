"""Who may ask, and how much at once; and what every answer says to the browser that shows it.

Must not know what the pages hold.
"""

from __future__ import annotations

import base64
import binascii
import hmac
import logging
import re
import time
from collections.abc import Callable
from ipaddress import ip_address, ip_network
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from agent.settings.http import HttpSettings, is_loopback

LONGEST_TARGET = 2048  # bytes of path and query
MOST_HEADER_BYTES = 16_384
MOST_WRONG, WRONG_S = 10, 60.0  # tokens that one address may get wrong, within which time
MOST_REMEMBERED = 1000  # addresses

# What a page may do in a browser: show itself. No script, nothing from elsewhere, in nobody's frame.
POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src 'self' data:; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cache-control": "no-store",
}
# The process lives; and an alarm's own token, which the notice of it carries, opens what belongs to it.
_HOST = re.compile(r"[\w.-]+(?::\d+)?|\[[0-9a-fA-F:.]+\](?::\d+)?", re.ASCII)
_WITHOUT_TOKEN = re.compile(r"/healthz|/alarms/[^/]+(?:/ack)?")

_log = logging.getLogger(__name__)


class Wrongs:
    """Counts wrong tokens by address; who gives too many is told so until some time has passed."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._of: dict[str, list[float]] = {}

    def add(self, address: str) -> None:
        """One more wrong one from there."""
        kept = self._recent(address)
        self._of.pop(address, None)
        if len(self._of) >= MOST_REMEMBERED:
            self._of.pop(next(iter(self._of)))  # who was wrong longest ago
        self._of[address] = [*kept, self._clock()][-MOST_WRONG:]

    def too_many(self, address: str) -> bool:
        """Whether another wrong one from there is refused as one too many."""
        return len(self._recent(address)) >= MOST_WRONG

    def _recent(self, address: str) -> list[float]:
        return [at for at in self._of.get(address, ()) if self._clock() - at < WRONG_S]


class Guard:
    """Stands before the pages: refuses what is too big, wrongly addressed or not allowed, in a sentence."""

    def __init__(self, app: ASGIApp, http: HttpSettings, token: str | None, wrongs: Wrongs) -> None:
        self._app = app
        self._http = http
        self._token = token.encode() if token is not None else None
        self._wrongs = wrongs

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        begun = False

        async def send_guarded(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                MutableHeaders(scope=message).update(HEADERS)
            await send(message)

        refusal = self._refusal(scope)
        if refusal is not None:
            await refusal(scope, receive, send_guarded)
            return
        try:
            await self._app(scope, receive, send_guarded)
        except ClientDisconnect:
            pass
        except Exception:
            _log.exception("%s %r could not be answered", scope["method"], scope["path"])
            if begun:  # cut off, so that nobody takes the part for the whole
                raise
            await said(500, "This went wrong; the agent's log says how.")(scope, receive, send_guarded)

    def _refusal(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        if len(scope["raw_path"]) + len(scope["query_string"]) > LONGEST_TARGET:
            return said(414, f"The address is longer than {LONGEST_TARGET} characters.")
        if sum(len(name) + len(value) for name, value in scope["headers"]) > MOST_HEADER_BYTES:
            return said(431, f"The headers have more than {MOST_HEADER_BYTES} bytes.")
        if is_loopback(self._http.host) and not self._is_ours(headers.get("host", "")):
            # A page from elsewhere may have its own name resolved to this machine (DNS rebinding).
            return said(421, "No such host here; a name that people use is http.public_url's.")
        if self._token is None or _WITHOUT_TOKEN.fullmatch(scope["path"]):
            return None
        return self._token_refusal(headers.get("authorization"), address_of(scope))

    def _is_ours(self, host: str) -> bool:
        name = _name(f"//{host}") if _HOST.fullmatch(host) else None
        public = _name(self._http.public_url) if self._http.public_url else None
        return name is not None and (is_loopback(name) or name == public)

    def _token_refusal(self, authorization: str | None, address: str) -> Response | None:
        assert self._token is not None
        if authorization is None:
            return _unauthorized("This needs the agent's token: as a bearer token, or as the password.")
        shown = _shown_token(authorization)
        if shown is not None and hmac.compare_digest(shown, self._token):
            return None  # whatever else came from there: behind a proxy all have one address
        if self._wrongs.too_many(address):
            return too_many()
        self._wrongs.add(address)
        return _unauthorized("That is not the agent's token.")


def said(status: int, sentence: str, headers: dict[str, str] | None = None) -> Response:
    """A sentence for who asked, be it a person or a program."""
    return PlainTextResponse(f"{sentence}\n", status, headers)


def too_many() -> Response:
    text = f"Too many wrong tokens came from this address; try again in {WRONG_S:.0f} s."
    return said(429, text, {"retry-after": f"{WRONG_S:.0f}"})


def address_of(scope: Scope) -> str:
    """Whom wrong tokens are counted for; of IPv6 the network, which one machine may have all of."""
    host = scope["client"][0] if scope.get("client") else ""
    try:
        is_6 = ip_address(host).version == 6
    except ValueError:
        return host
    return str(ip_network((host.partition("%")[0], 64), strict=False)) if is_6 else host


def _unauthorized(sentence: str) -> Response:
    response = said(401, sentence, {"www-authenticate": 'Bearer realm="dewline"'})
    response.headers.append("www-authenticate", 'Basic realm="dewline", charset="UTF-8"')
    return response


def _shown_token(authorization: str) -> bytes | None:
    """Of RFC 6750 the token, of RFC 7617 the password under any name."""
    scheme, _, value = authorization.partition(" ")
    if scheme.lower() == "bearer":
        return value.strip().encode()
    if scheme.lower() != "basic":
        return None
    try:
        return base64.b64decode(value.strip(), validate=True).partition(b":")[2]
    except (binascii.Error, ValueError):
        return None


def _name(url: str) -> str | None:
    try:
        return urlsplit(url).hostname
    except ValueError:
        return None

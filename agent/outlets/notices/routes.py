"""The ways by which notices go out: one receiver each, reached by a URL of the apprise library.

A URL holds secrets, and so may anything that the library says about it, even where it masks a password: paths
and headers hold tokens too. So nothing of either is shown or kept, but what `_TELLING` picks out.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Iterable, Mapping
from pathlib import Path

from agent.settings.notices import RouteSettings
from agent.settings.sentences import variable

# Of all that the library says of a failure, only this.
_TELLING = re.compile(
    r"error=(?P<http>\d{3})\b|\((?P<smtp>\d{3}), b?['\"]"
    r"|(?P<words>connection refused|timed out|name or service not known|certificate verify failed"
    r"|network is unreachable|connection unexpectedly closed|connection reset"
    r"|(?:auth|starttls) extension not supported)",
    re.IGNORECASE,
)


class RouteError(ValueError):
    """Routes that cannot be used; names each, never its URL."""


class Route:
    """A way to one receiver. Raises RouteError where the URL is not one."""

    def __init__(self, name: str, url: str) -> None:
        _keep_quiet()
        # Here alone: importing it takes a quarter of a second, and most commands send nothing.
        from apprise import Apprise, AppriseAsset, OverflowMode

        self.name = name
        # With a limit of its own the library would send in a thread that keeps a process from ending.
        asset = AppriseAsset(app_id="Dewline", app_desc="Dewline", async_mode=False, service_timeout=0)
        self._sender = Apprise(asset=asset)
        if not self._sender.add(url):
            raise RouteError(
                f"route {name!r}: its URL is not one that notices can go to; right would be one such as "
                "mailto://HOST/?from=A@HOST&to=B@HOST or jsons://HOST/PATH"
            )
        receivers = 0
        for service in self._sender:
            service.optional = False  # or a failure would count as a success
            service.retry = 0  # the outbox tries again
            service.redirects = False  # or a page to log in at would count as the receiver
            service.overflow_mode = OverflowMode.SPLIT  # or a service may cut the end off
            receivers += len(service)
        if receivers != 1:
            raise RouteError(
                f"route {name!r}: its URL names {receivers} receivers; right would be a route for each, or "
                "one that refuses makes a notice come again to the others"
            )

    def __repr__(self) -> str:
        return f"Route({self.name!r})"

    def send(self, subject: str, body: str) -> str | None:
        """Send and wait for the answer, for ever if it drips in. None if accepted, else what went wrong."""
        said: list[str] = []
        try:
            result = self._sender.notify(
                body,
                subject,
                body_format="text",
                log_callback=lambda entry, _: said.append(entry.message),
                log_level=logging.DEBUG,
            )
        except Exception as error:  # a plugin's own; its text may hold the URL
            return f"failed with {type(error).__name__}"
        return None if result else _what_went_wrong(said)


def open_routes(routes: Iterable[RouteSettings], environment: Mapping[str, str]) -> list[Route]:
    """The routes of a configuration, their URLs fetched. Raises RouteError with all that is wrong."""
    opened, wrong = [], []
    for route in routes:
        try:
            opened.append(Route(route.name, _url(route, environment)))
        except RouteError as error:
            wrong.append(str(error))
    if wrong:
        raise RouteError("\n".join(wrong))
    return opened


def _url(route: RouteSettings, environment: Mapping[str, str]) -> str:
    if route.url is not None:
        return route.url.get_secret_value()
    if route.url_env is not None:
        place, found = variable(route.url_env, "url_env"), environment.get(route.url_env)
        if found is None:
            raise RouteError(f"route {route.name!r}: {place} is not set; right would be the URL in it")
    else:
        place = str(route.url_file)
        try:
            found = Path(place).read_text(encoding="utf-8")
        except OSError as error:
            raise RouteError(f"route {route.name!r}: {place} cannot be read: {error.strerror}") from None
        except UnicodeDecodeError:
            raise RouteError(f"route {route.name!r}: {place} is not UTF-8 text") from None
    if not found.strip():
        raise RouteError(f"route {route.name!r}: {place} is empty; right would be the URL in it")
    return found.strip()


def _keep_quiet() -> None:
    """Let nothing of what the libraries log leave: it would pass through every handler of this process."""
    library = logging.getLogger("apprise")
    if not any(isinstance(handler, logging.NullHandler) for handler in library.handlers):
        library.addHandler(logging.NullHandler())
    library.propagate = False
    library.setLevel(logging.DEBUG)  # what `send` listens to
    logging.getLogger("urllib3").setLevel(logging.WARNING)  # below, it logs paths


def _what_went_wrong(said: Iterable[str]) -> str:
    found: list[str] = []
    for match in (match for line in said for match in _TELLING.finditer(line)):
        code = match["http"] or match["smtp"]
        found.append(f"answered {code}" if code else match["words"].lower())
    return ", ".join(dict.fromkeys(found)) or "was not accepted"

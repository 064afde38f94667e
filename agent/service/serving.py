"""The HTTP server in a thread of the agent. It has its address before anything is written, and ends with the
agent. Must not know what is served.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Mapping
from types import TracebackType
from typing import Self

from starlette.applications import Starlette
from uvicorn import Config, Server

from agent.outlets.web import Door, Patient
from agent.service.machine.secrets import token
from agent.service.machine.tls import serving_context
from agent.settings.http import HttpSettings

ENDS_S = 2  # for answers that are under way when the agent ends

_log = logging.getLogger(__name__)


class Serving:
    """Takes its address when it is made, and answers from `start` on."""

    def __init__(self, http: HttpSettings, environment: Mapping[str, str]) -> None:
        """Raises ValueError for a token or certificate that cannot be used, OSError for an address."""
        self.token = token(http, environment)
        self._tls = serving_context(http, environment)
        self._thread: threading.Thread | None = None
        self._server: Server | None = None
        try:
            self._door = Door.at(http.host, http.port)
        except OSError as error:
            what = f"http cannot be served on {http.host}:{http.port}"
            raise OSError(f"{what}: {error.strerror or error}") from None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._server is not None and self._thread is not None:
            self._server.should_exit = True
            self._thread.join()
        self._door.close()

    def start(self, app: Starlette, broke_down: Callable[[], None]) -> None:
        """Answer from now on. ``broke_down`` is called where that ends by itself."""
        tls = self._tls
        config = Config(
            app,
            http=Patient,
            loop="asyncio",
            ws="none",
            lifespan="on",
            interface="asgi3",
            log_config=None,
            log_level="critical",  # what goes wrong in a page is logged where it is made
            access_log=False,  # addresses hold tokens
            proxy_headers=False,  # anybody can write such a header
            server_header=False,
            timeout_graceful_shutdown=ENDS_S,
            ssl_context_factory=None if tls is None else lambda *_: tls,
        )
        self._server = Server(config)
        self._thread = threading.Thread(target=self._serve, args=(self._server, broke_down), name="http")
        self._thread.start()
        while not self._server.started and self._thread.is_alive():
            time.sleep(0.01)

    def _serve(self, server: Server, broke_down: Callable[[], None]) -> None:
        try:
            server.run(sockets=[self._door])
        except BaseException:
            _log.exception("the HTTP server broke down")
        if not server.should_exit:
            broke_down()

"""Clients that are slow, silent or many: what each connection may take of the agent before it is closed.

Requests themselves are uvicorn's. Must not know what is served.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
from collections import Counter
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

MOST_CONNECTIONS = 128  # each takes a file descriptor, of which a process often has no more than 1024
REQUEST_S = 10  # from the first byte of a request to its last
STALLED_S = 30  # for a reader to take another part of its answer

Address = Any  # as the socket module gives it


class Door(socket.socket):
    """The socket that is listened on, with no more than MOST_CONNECTIONS let in at a time.

    Who comes beyond that takes the place of another: the one longest there of the machine that has most of
    them. So who holds many shuts out nobody else, nor for long what comes from the same machine.
    """

    @classmethod
    def at(cls, host: str, port: int) -> Door:
        """Listening, from now on. Raises OSError where that cannot be."""
        family, kind, protocol, _, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        door = cls(family, kind, protocol)
        try:
            door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            door.bind(address)
            door.listen()
            door.setblocking(False)
        except OSError:
            door.close()
            raise
        return door

    def __init__(self, *kind: int) -> None:
        super().__init__(*kind)
        self._inside: list[tuple[socket.socket, str]] = []  # those longest there first

    def accept(self) -> tuple[socket.socket, Address]:
        connection, address = super().accept()
        self._inside = [each for each in self._inside if each[0].fileno() != -1]
        if len(self._inside) >= MOST_CONNECTIONS:
            ((busiest, _),) = Counter(machine for _, machine in self._inside).most_common(1)
            leaves = next(each for each in self._inside if each[1] == busiest)
            self._inside.remove(leaves)
            with contextlib.suppress(OSError):  # it has gone already
                leaves[0].shutdown(socket.SHUT_RDWR)
        self._inside.append((connection, address[0]))
        return connection, address


class Patient(H11Protocol):
    """HTTP/1.1 on one connection, closed where a request or the reading of its answer takes too long."""

    _request: asyncio.TimerHandle | None = None
    _reading: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._request = self.loop.call_later(REQUEST_S, transport.abort)

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        arrives = self.conn.their_state in (h11.IDLE, h11.SEND_BODY)
        if not arrives:
            self._forget_request()
        elif self._request is None:
            self._request = self.loop.call_later(REQUEST_S, self.transport.abort)

    def pause_writing(self) -> None:
        super().pause_writing()
        self._reading = self.loop.call_later(STALLED_S, self.transport.abort)

    def resume_writing(self) -> None:
        super().resume_writing()
        self._forget_reading()

    def connection_lost(self, exc: Exception | None) -> None:
        super().connection_lost(exc)
        self._forget_request()
        self._forget_reading()

    def _forget_request(self) -> None:
        if self._request is not None:
            self._request.cancel()
            self._request = None

    def _forget_reading(self) -> None:
        if self._reading is not None:
            self._reading.cancel()
            self._reading = None

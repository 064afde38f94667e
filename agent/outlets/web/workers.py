"""Threads that work while the server goes on listening, with a short queue ahead of them."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

_Answer = TypeVar("_Answer")


class BusyError(Exception):
    """More is asked for at once than can be worked on soon."""


class Workers:
    """Some threads for one kind of work, so that no kind waits for another."""

    def __init__(self, name: str, threads: int, most_waiting: int) -> None:
        self._threads = ThreadPoolExecutor(threads, thread_name_prefix=f"http {name}")
        self._most = threads + most_waiting
        self._taken = 0

    async def do(self, work: Callable[[], _Answer]) -> _Answer:
        """What the work returns or raises; BusyError where too much waits already."""
        if self._taken >= self._most:
            raise BusyError
        self._taken += 1
        try:
            return await asyncio.get_running_loop().run_in_executor(self._threads, work)
        finally:
            self._taken -= 1

    def close(self) -> None:
        """Take no more work. What is under way ends by itself, and nobody waits for it."""
        self._threads.shutdown(wait=False, cancel_futures=True)

"""One agent on one store: a second one is told so and leaves. The lock ends with its process."""

from __future__ import annotations

import fcntl
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

PATIENCE_S = 1.0  # with whoever only asks whether an agent runs
PAUSE_S = 0.05


class StoreTakenError(RuntimeError):
    """Another agent works on the store."""


@contextmanager
def only_agent(store: Path) -> Iterator[None]:
    """Hold the store for this process. Raises StoreTakenError, naming the process that holds it."""
    with _lock_file(store).open("a+", encoding="utf-8") as file:
        if not _taken(file):
            file.seek(0)
            holder = file.read().strip() or "another"
            raise StoreTakenError(
                f"the store {store} is worked on by process {holder}; one agent per store"
            ) from None
        file.truncate(0)
        file.write(str(os.getpid()))
        file.flush()
        yield


def is_worked_on(store: Path) -> bool:
    """Whether an agent works on the store now."""
    try:
        with _lock_file(store).open(encoding="utf-8") as file:
            fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except FileNotFoundError:
        return False
    except BlockingIOError:
        return True
    return False


def _lock_file(store: Path) -> Path:
    return store.with_name(f"{store.name}.lock")


def _taken(file: IO[str]) -> bool:
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() > until:
                return False
            time.sleep(PAUSE_S)
        else:
            return True

"""One agent on one store: a second one is told so and leaves. The lock ends with its process."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


class StoreTakenError(RuntimeError):
    """Another agent works on the store."""


@contextmanager
def only_agent(store: Path) -> Iterator[None]:
    """Hold the store for this process. Raises StoreTakenError, naming the process that holds it."""
    path = store.with_name(f"{store.name}.lock")
    with path.open("a+", encoding="utf-8") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            file.seek(0)
            holder = file.read().strip() or "another"
            raise StoreTakenError(
                f"the store {store} is worked on by process {holder}; one agent per store"
            ) from None
        file.truncate(0)
        file.write(str(os.getpid()))
        file.flush()
        yield

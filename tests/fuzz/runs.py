"""How long to look for input that breaks something: a moment, or DEWLINE_FUZZ_SECONDS for each test."""

import os
import time
from collections.abc import Callable
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis.strategies import SearchStrategy

SECONDS = float(os.environ.get("DEWLINE_FUZZ_SECONDS", "0"))


def fuzz(*inputs: SearchStrategy[Any]) -> Callable[[Callable[..., None]], Callable[[], None]]:
    """A test over such inputs; each round of a long run begins anew with other ones."""

    def decorated(check: Callable[..., None]) -> Callable[[], None]:
        one_round = settings(
            max_examples=1000 if SECONDS else 150, deadline=None, suppress_health_check=list(HealthCheck)
        )(given(*inputs)(check))

        def test() -> None:
            end = time.monotonic() + SECONDS
            one_round()
            while time.monotonic() < end:
                one_round()

        return test

    return decorated

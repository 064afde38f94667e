"""How warm the compressors' shells are: by what they discharge, or by their heaters where they stand.

It must not know of piping, modes or instruments.
"""

from collections.abc import Collection, Sequence

from demo_feed.bench.circuit import STEP_S
from demo_feed.module import approach

HEATER_K = 22.0  # that a crankcase heater keeps the shell above the air; design choices, no source
WARMS_S, COOLS_S = 3600.0, 7200.0


class Shells:
    """``apart``: each warms by its own running; else all are as warm as the hottest.

    ``locked_out`` are those, from 1, whose supply is off, the heater's too.
    """

    def __init__(self, count: int, apart: bool, locked_out: Collection[int]) -> None:
        self.now_c = (40.0,) * count
        self._apart = apart or bool(locked_out)
        self._locked_out = locked_out

    def step(self, discharge_c: Sequence[float | None], outdoor_c: float) -> None:
        """``discharge_c``: None where one stands."""
        hottest_c = max((each for each in discharge_c if each is not None), default=None)
        own = discharge_c if self._apart else [hottest_c] * len(discharge_c)
        self.now_c = tuple(
            self._next(number, shell_c, hot_c, outdoor_c)
            for number, (shell_c, hot_c) in enumerate(zip(self.now_c, own, strict=True), start=1)
        )

    def _next(self, number: int, shell_c: float, hot_c: float | None, outdoor_c: float) -> float:
        if hot_c is not None:
            return approach(shell_c, hot_c - 12.0, WARMS_S, STEP_S)
        heater_k = 0.0 if number in self._locked_out else HEATER_K
        return approach(shell_c, outdoor_c + heater_k, COOLS_S, STEP_S)

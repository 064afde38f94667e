"""The one place where the agent reads the time of day."""

import time


def now_us() -> int:
    """Microseconds of UTC since 1970."""
    return time.time_ns() // 1000

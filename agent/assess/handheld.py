"""stub until merge"""

from typing import NamedTuple


class HandheldCompared(NamedTuple):
    probe: str | None
    inlet: str | None
    side: str | None
    text: str

"""What can be said of an alarm at one time, before any delay."""

from __future__ import annotations

from enum import StrEnum


class Condition(StrEnum):
    """One alarm at one grid time, or at the end of one hour."""

    UNKNOWN = "unknown"  # nothing decided: neither raises nor clears
    CLEAR = "clear"  # inside the limit by the deadband
    INSIDE = "inside"  # neither beyond nor clear
    POSSIBLE = "possible"  # beyond, by values that have not settled
    BEYOND = "beyond"
    BEYOND_DOUBT = "beyond_doubt"  # beyond with the full uncertainty


CONDITIONS = tuple(Condition)
CODE = {condition: code for code, condition in enumerate(CONDITIONS)}

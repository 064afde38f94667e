"""What people type of themselves: a name, a note, a reason."""

from __future__ import annotations

LONGEST = 300  # characters


def is_fit(text: str) -> bool:
    """Whether it can be kept and shown as it is."""
    return len(text) <= LONGEST and text.isprintable()

"""The little Markdown that the pages are written in."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table; a bar in a cell does not end it."""
    lines = [header, ["---"] * len(header), *rows]
    return "\n".join(f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in line)} |" for line in lines)


def code(text: object) -> str:
    """As it is typed."""
    return f"`{text}`"


def joined(parts: Iterable[str], last: str = "and") -> str:
    """One after the other, with a word before the last."""
    *most, end = parts
    return f"{', '.join(most)} {last} {end}" if most else end


def page(title: str, *parts: str) -> str:
    """A whole page."""
    return "\n\n".join([f"# {title}", *parts]) + "\n"

"""Rows as CSV (RFC 4180), with nothing in them that a spreadsheet would take for a formula."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence

# What makes a cell a formula, or puts one behind it: OWASP, CSV Injection (from memory).
_BEGINS_A_FORMULA = tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")
_NUMBER = re.compile(r"[+-]?[0-9]+(?:\.[0-9]*)?(?:[eE][+-]?[0-9]+)?")


def csv_text(columns: Sequence[str], rows: Iterable[Mapping[str, object]], *, header: bool = False) -> str:
    """Rows under these columns, a field that a row lacks empty; with ``header`` the columns' names first."""
    out = io.StringIO()
    writer = csv.writer(out)
    if header:
        writer.writerow(columns)
    writer.writerows([disarmed(row.get(column, "")) for column in columns] for row in rows)
    return out.getvalue()


def disarmed(cell: object) -> object:
    """A text that begins as a formula does, and is no number, with an apostrophe ahead of it."""
    if isinstance(cell, str) and cell.startswith(_BEGINS_A_FORMULA) and not _NUMBER.fullmatch(cell):
        return f"'{cell}"
    return cell

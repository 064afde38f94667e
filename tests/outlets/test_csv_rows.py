"""CSV that reads back, and does nothing in a spreadsheet."""

import csv
import io

import pytest

from agent.outlets.csv_rows import csv_text, disarmed

ODD = ["<b>&\"'", "a,b", "two\nlines", "\u00e4 \u96ea", '"quoted"', " =1", "12.0 degC"]


@pytest.mark.parametrize("cell", ODD)
def test_what_is_no_formula_reads_back_as_it_was(cell):
    text = csv_text(["one", "two"], [{"one": cell, "two": cell}], header=True)
    assert list(csv.reader(io.StringIO(text, newline=""))) == [["one", "two"], [cell, cell]]
    assert text.endswith("\r\n")  # RFC 4180, section 2.1


@pytest.mark.parametrize(
    "cell",  # OWASP, CSV Injection: what a cell must not begin with (from memory)
    [
        "=1+1",
        "+cmd|' /C calc'!A0",
        "-2+3",
        "@SUM(A1)",
        "\t=1",
        "\r=1",
        "\n=1",
        "=",
        "\uff1dA1",
        "-5 degC",
        "-1,5",
    ],
)
def test_a_formula_is_disarmed(cell):
    assert disarmed(cell) == f"'{cell}"
    text = csv_text(["value"], [{"value": cell}])
    assert next(csv.reader(io.StringIO(text, newline=""))) == [f"'{cell}"]


@pytest.mark.parametrize("cell", [-5.25, 0, None, "", "-5", "+5.0", "-1.5e-3", "-.", "on"])
def test_numbers_and_nothing_stay_as_they_are(cell):
    assert disarmed(cell) == (f"'{cell}" if cell == "-." else cell)


def test_a_field_that_a_row_lacks_is_empty_and_a_zero_is_none():
    assert csv_text(["a", "b", "c"], [{"c": 0, "b": None}]) == ",,0\r\n"

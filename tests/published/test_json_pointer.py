"""Points of plain JSON against RFC 6901, and times against RFC 3339."""

import pytest
from jsonpointer import JsonPointer

from agent.intake.plain_json import resolve
from agent.intake.stamps import stated
from agent.settings.mapping import pointer_problem

# RFC 6901, section 5: the document of its examples, and what each pointer evaluates to.
DOCUMENT = rb"""
   {
      "foo": ["bar", "baz"],
      "": 0,
      "a/b": 1,
      "c%d": 2,
      "e^f": 3,
      "g|h": 4,
      "i\\j": 5,
      "k\"l": 6,
      " ": 7,
      "m~n": 8
   }
"""
EXAMPLES = {
    "/foo/0": "bar",
    "/": 0,
    "/a~1b": 1,
    "/c%d": 2,
    "/e^f": 3,
    "/g|h": 4,
    "/i\\j": 5,
    '/k"l': 6,
    "/ ": 7,
    "/m~0n": 8,
}


def at(*pointers: str) -> tuple[dict[str, object], list[str]]:
    records, errors = resolve(DOCUMENT, {pointer: JsonPointer(pointer) for pointer in pointers}, None)
    return {record.name: record.value for record in records}, [error.reason for error in errors]


def test_the_examples_of_section_5() -> None:
    assert at(*EXAMPLES) == (EXAMPLES, [])
    assert [pointer_problem(pointer) for pointer in EXAMPLES] == [None] * len(EXAMPLES)


@pytest.mark.parametrize("pointer", ["", "/foo"])
def test_the_examples_that_lead_to_an_object_or_an_array(pointer: str) -> None:
    assert at(pointer) == ({}, ["structure"])


@pytest.mark.parametrize(
    "pointer",
    [
        "/foo/2",
        "/foo/-",  # section 4: the element after the last, which does not exist
        "/foo/00",  # section 4: no leading zeros
        "/foo/-1",
        "/foo/0/0",  # a letter of a text is nothing that a pointer references
        "/a/b",
        "/bar",
        "/m~01n",  # section 4: "~01" is "~1" and never "/"
    ],
)
def test_what_references_nothing(pointer: str) -> None:
    found, reasons = at("/a~1b", pointer)
    assert (found, reasons) == ({"/a~1b": 1}, [])


@pytest.mark.parametrize("pointer", ["foo", "foo/0", "#/foo", "/a~2b", "/a~", "~0"])  # section 3: the syntax
def test_what_is_no_pointer(pointer: str) -> None:
    assert "is no JSON Pointer" in (pointer_problem(pointer) or "")


# RFC 3339, section 5.8, and the section's own conversion of the second to UTC.
@pytest.mark.parametrize(
    ("text", "same"),
    [
        ("1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57Z"),
        ("1937-01-01T12:00:27.87+00:20", "1937-01-01T11:40:27.87Z"),
    ],
)
def test_the_examples_of_times(text: str, same: str) -> None:
    assert stated(text) == stated(same)
    assert stated(text)[1] is True


def test_the_first_example_of_a_time() -> None:
    """20 minutes and 50.52 seconds after the 23rd hour of April 12th, 1985 in UTC: 5580 days after 1970."""
    days = 15 * 365 + 4 + 31 + 28 + 31 + 11  # four leap days, and the whole days of 1985
    assert stated("1985-04-12T23:20:50.52Z") == (
        (days * 86_400 + 23 * 3600 + 20 * 60) * 10**6 + 50_520_000,
        True,
    )


def test_a_leap_second_has_no_place_in_the_count_of_seconds() -> None:
    with pytest.raises(ValueError, match="second"):
        stated("1990-12-31T23:59:60Z")

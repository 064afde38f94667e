"""The drawing in characters: as it was looked at and found right, and never wider than a terminal."""

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.outlets.terminal.drawn_text import can_show, drawn, in_ascii
from agent.piping import Layout, Place, draw, explain
from agent.piping.cases import base_case, described
from tests.piping.layouts import FOLDER, layout, mappings, shipped
from tests.piping.tangles import tangles

DRAWINGS = Path(__file__).parents[1] / "drawings"
law = settings(max_examples=150, deadline=None)
any_layout = st.one_of(mappings().map(Layout.from_mapping), tangles())


def lines(piping, modes=None, **more):
    situations = [base_case(piping, mode) for mode in described(piping, modes)]
    return drawn(draw(piping, situations, **more))


def plain(found):
    return [line.plain for line in found]


def looked_at(name):
    return (DRAWINGS / f"{name}.txt").read_text(encoding="utf-8").splitlines()


@pytest.mark.parametrize("name", [file.stem for file in sorted(FOLDER.glob("*.yaml"))])
def test_the_shipped_layouts(name):
    found = lines(Layout.from_mapping(shipped(name)), configured_probe="compressor_inlet")
    assert plain(found) == looked_at(name)


def test_one_mode_in_plain_characters():
    late = Layout.from_mapping(shipped("two-pipe-twin-late"))
    found = lines(late, ["heating"], configured_probe="compressor_inlet")
    assert plain(map(in_ascii, found)) == looked_at("two-pipe-twin-late-heating-ascii")


@law
@given(any_layout)
def test_never_wider_than_a_terminal(piping):
    found = plain(lines(piping))
    assert found and max(map(len, found)) <= 80 and [line.rstrip() for line in found] == found


@law
@given(any_layout)
def test_ascii_is_the_same_drawing_sign_for_sign(piping):
    found = lines(piping)
    in_plain = [in_ascii(line) for line in found]
    assert found
    for line, other in zip(found, in_plain, strict=True):
        assert other.plain.isascii() and len(other.plain) == len(line.plain) and other.spans == line.spans
        assert [a for a, b in zip(line.plain, other.plain, strict=True) if a.isascii() and a != b] == []


@law
@given(any_layout)
def test_every_name_can_be_read_in_full(piping):
    """A name that was folded is put together again along its column."""
    together = "".join("".join(plain(lines(piping))).split()).replace("↳", "")
    names = [row.place.name for row in draw(piping, []).rows if row.place and len(row.place.name) <= 8]
    assert names and [name for name in names if name not in together] == []


def test_a_long_name_goes_on_below_with_a_mark():
    name = "a_very_long_name_that_someone_gave_to_a_probe_at_the_far_end_of_the_roof"
    piping = layout(f"evaporator:coil probe:{name} transducer:p compressor:1")
    found = plain(lines(piping))
    first = next(number for number, line in enumerate(found) if "a_very_long" in line)
    pieces = [found[first].split()[1]]
    for line in found[first + 1 :]:
        if "↳" not in line:
            break
        pieces.append(line.split("↳ ")[1])
    assert len(pieces) > 1 and "".join(pieces) == name


def test_pipes_that_pass_are_not_connected_with_what_runs_across():
    piping = layout(
        "evaporator:a split:s probe:x junction:j transducer:p compressor:1",
        "evaporator:b split:r probe:u junction:j",
        "split:s probe:y junction:k compressor:2",
        "split:r probe:v junction:k",
        modes={"cooling": {"evaporators": ["a", "b"]}},
    )
    (track,) = [line[:12] for line in plain(lines(piping)) if " j " in line]
    assert track == " ●──│──┘  │ "


def test_more_pipes_than_lanes_are_cut_and_both_ends_say_so():
    paths = [f"split:s compressor:{n}" for n in range(1, 10)]
    found = plain(lines(layout("evaporator:coil transducer:p split:s", *paths)))
    assert sum("goes on to compressor" in line for line in found) == 3
    assert sum("comes from split s" in line for line in found) == 3


def test_an_unknown_kind_is_a_box_with_kind_and_name():
    piping = layout("evaporator:coil vessel:x transducer:p compressor:1")
    new = Place("economiser", "x")
    edges = frozenset(tuple(new if p.name == "x" else p for p in edge) for edge in piping.suction)
    found = plain(lines(replace(piping, suction=edges)))
    assert any(line.startswith("[■] ") and line.split()[1:] == ["x", "economiser"] for line in found)


def test_colour_is_never_the_only_sign():
    """What has a colour of its own is a word of its own too."""
    explanation = explain(Layout.from_mapping(shipped("two-pipe-twin-late")))
    marks = [mark for row in explanation.drawing.rows for mark in row.marks if mark.fitness is not None]
    assert len({mark.fitness for mark in marks}) > 2
    assert all(mark.word == mark.fitness.replace("_", " ") for mark in marks)


@pytest.mark.parametrize(
    ("encoding", "can"),
    [
        ("utf-8", True),
        ("cp437", False),
        ("ascii", False),
        ("latin-1", False),
        (None, False),
        ("no-such", False),
    ],
)
def test_whether_a_terminal_can_show_it(encoding, can):
    assert can_show(encoding) is can

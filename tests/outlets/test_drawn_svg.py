"""The drawing as SVG: well formed, self-contained, every name as text, and escaped."""

from dataclasses import replace
from xml.etree import ElementTree as Xml

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.outlets.drawn_svg import drawn_svg
from agent.piping import Drawing, Layout, Place, draw
from agent.piping.cases import base_case, described
from tests.piping.layouts import layout, mappings, shipped
from tests.piping.tangles import tangles

SVG = "{http://www.w3.org/2000/svg}"
any_layout = st.one_of(mappings().map(Layout.from_mapping), tangles())


def svg(piping, modes=None, title="a title", about=""):
    situations = [base_case(piping, mode) for mode in described(piping, modes)]
    return drawn_svg(draw(piping, situations), title, about)


def texts(root):
    return [element.text for element in root.iter(f"{SVG}text")]


@pytest.mark.parametrize("name", ["two-pipe-single-early", "two-pipe-twin-late"])
def test_the_shipped_layouts(name):
    piping = Layout.from_mapping(shipped(name))
    root = Xml.fromstring(svg(piping, title=name, about=piping.about))
    assert root.tag == f"{SVG}svg"
    assert root.find(f"{SVG}title").text == name
    assert root.find(f"{SVG}desc").text.startswith(piping.about)
    for probe in (*piping.suction_probes, *piping.discharge_probes):
        assert probe in texts(root)
        assert probe in root.find(f"{SVG}desc").text
    assert texts(root).count("fit ◄") == 2 and {"cooling", "heating"} <= set(texts(root))
    assert "prefers-color-scheme: dark" in root.find(f"{SVG}style").text


@settings(max_examples=100, deadline=None)
@given(any_layout)
def test_any_layout_is_well_formed_and_holds_every_name_inside_its_frame(piping):
    root = Xml.fromstring(svg(piping))
    wide, high = float(root.get("width")), float(root.get("height"))
    assert {place.name for place in piping.places} <= set(texts(root))
    for element in root.iter(f"{SVG}text"):
        letters = 14 * 1233 / 2048 * len(element.text)  # advance of DejaVu Sans Mono, from memory
        start = float(element.get("x")) - (letters / 2 if element.get("class") == "letter" else 0)
        assert start >= 0 and start + letters <= wide
        assert 0 < float(element.get("y")) < high


def test_it_asks_for_nothing_from_outside_and_runs_nothing():
    text = svg(Layout.from_mapping(shipped("two-pipe-twin-late")))
    root = Xml.fromstring(text)
    assert {element.tag.removeprefix(SVG) for element in root.iter()} == {
        *("svg", "title", "desc", "style", "rect", "path", "circle", "text")
    }
    attributes = {name for element in root.iter() for name in element.attrib}
    assert not [name for name in attributes if name.startswith("on") or "href" in name]
    assert text.count("http") == 1 and "url(" not in text and "@import" not in text


def test_names_and_texts_are_escaped():
    """A layout's own names are plain; a title or a description may hold anything."""
    bad = "<script>alert('&')</script>"
    piping = layout("evaporator:coil probe:t transducer:p compressor:1")
    drawing = draw(piping, [base_case(piping, "cooling")])
    rows = tuple(replace(r, place=Place("probe", bad)) if r.place.name == "t" else r for r in drawing.rows)
    text = drawn_svg(Drawing(drawing.situations, rows), bad, bad)
    root = Xml.fromstring(text)
    assert "<script" not in text and bad in texts(root) and root.find(f"{SVG}title").text == bad


def test_what_a_pipe_carries_is_a_shape_as_well_as_a_colour():
    """High side: a double line, by a core in the colour of the ground; nothing flows: a dashed one."""
    piping = Layout.from_mapping(shipped("two-pipe-twin-late"))
    root = Xml.fromstring(svg(piping, ["heating"]))
    paths = [(e.get("class"), e.get("d")) for e in root.iter(f"{SVG}path")]
    high = [way for kind, way in paths if kind == "pipe high_side"]
    assert high and [way for kind, way in paths if kind == "core"] == high
    assert "stroke-dasharray" in root.find(f"{SVG}style").text.partition(".still")[2].partition("}")[0]


def test_what_is_hot_now_says_so_only_where_it_is_drawn_for_now():
    """In heating the gas pipe carries discharge gas to the rooms, and the probe on it is on a hot pipe."""
    piping = Layout.from_mapping(shipped("two-pipe-twin-late"))
    drawing = draw(piping, [base_case(piping, "heating")])
    now = texts(Xml.fromstring(drawn_svg(drawing, "t", now=True)))
    assert now.count("high side, HOT NOW") == 4 and "high side" not in now
    assert now[now.index("gas_pipe") + 2] == now[now.index("suction_pipe") + 2] == "high side, HOT NOW"
    assert now[now.index("coil_pipe") + 2] == "suction gas"
    assert "HOT" not in "".join(texts(Xml.fromstring(drawn_svg(drawing, "t"))))


def test_a_reason_stands_behind_each_verdict():
    root = Xml.fromstring(svg(Layout.from_mapping(shipped("two-pipe-twin-late")), ["cooling"]))
    tips = {e.text: e.find(f"{SVG}title").text for e in root.iter(f"{SVG}text") if len(e)}
    assert tips["fit ◄"] == "all returning vapour, before anything is mixed in"

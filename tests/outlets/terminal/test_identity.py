"""How well layouts explain a module, as a person and a program are told."""

import json
from io import StringIO

from rich.console import Console

from agent.assess.identity import identity
from agent.outlets import identity_mapping, render_identity
from tests.assess.piped import LATE, hours, module, night_and_day
from tests.assess.test_identity import LAYOUTS, LIBRARY

EARLY = {"suction_pipe": 11.0, "accumulator_outlet": 13.5, "outdoor_coil_gas": 65.0}
DOUBTED = identity(module(LAYOUTS["two-pipe-single-early"], EARLY), LIBRARY, hours(EARLY))
SUPPORTED = identity(module(LAYOUTS["two-pipe-twin-late"], LATE), LIBRARY, night_and_day(LATE))


def shown(found, refrigerant="R-32"):
    console = Console(width=100, record=True, file=StringIO())
    console.print(render_identity(found, "hill-house/north/n1", refrigerant))
    return console.export_text()


def test_a_doubt_leads_and_both_explanations_stand_in_it():
    text = shown(DOUBTED)
    assert text.splitlines()[0].endswith("THE CONFIGURED LAYOUT IS IN DOUBT")
    assert "either accumulator_outlet reads" in text and "as on" in text


def test_every_layout_stands_with_its_points_the_configured_one_first():
    lines = [line.split() for line in shown(DOUBTED).splitlines()]
    names = [line[1].rstrip(":") for line in lines if len(line) > 2 and line[1].rstrip(":") in LAYOUTS]
    assert names[0] == "two-pipe-single-early" and set(names) == set(LAYOUTS)


def test_what_sends_people_to_the_module_comes_with_the_cautions():
    assert "flammable" in shown(DOUBTED)
    assert "flammable" not in shown(SUPPORTED)


def test_a_program_is_told_the_same():
    body = json.loads(json.dumps(identity_mapping(DOUBTED, "R-32")))
    assert body["conclusion"] == "doubted" and body["configured"]["points_against"] >= 1
    assert {each["layout"] for each in body["layouts"]} == set(LAYOUTS)
    assert body["better"] and body["on_site"] and body["text"] == DOUBTED.text

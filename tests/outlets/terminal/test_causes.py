"""Likely causes as a terminal shows them at two widths, and as data."""

import io
import json
from dataclasses import replace

import numpy as np
import pytest
from rich.console import Console

from agent.assess import Causes, causes
from agent.outlets import causes_mapping, render_causes
from tests.assess.signed_hours import MODULE, late, learnt

RESTRICTED = {
    "subcooling": 3.0,
    "indoor_expansion": 0.2,
    "discharge_temperature:1": 5.0,
    "discharge_temperature:2": 5.0,
}


def found(moved=None, without=()) -> Causes:
    rng = np.random.default_rng(1)
    return causes(MODULE, learnt(rng, without=without), late(rng, moved=moved or {}, without=without))


def shown(of, width=80, refrigerant="R-32"):
    out = io.StringIO()
    Console(width=width, file=out).print(render_causes("one/m1", of, refrigerant))
    assert all(len(line) <= width for line in out.getvalue().splitlines())
    return " ".join(out.getvalue().split())


@pytest.mark.parametrize("width", [80, 120])
def test_the_verdict_the_evidence_and_what_to_look_at(width):
    text = shown(found(RESTRICTED), width)
    assert "one/m1 cooling likely causes, from 24 settled hours points to liquid line restricted" in text
    assert "1. liquid line restricted score 0." in text
    assert "subcooling 3." in text and "K above usual (" in text
    assert "points above usual" in text and "degC, usually" in text
    assert text.index("for ") < text.index("look ")
    assert "2. " in text and "4. " not in text and "less likely: " in text


def test_limits_and_cautions_are_shown_with_it():
    text = shown(found(RESTRICTED))
    assert "Rossi and Braun (1997)" in text and "no ground to change the charge" in text
    assert "Before anyone goes to the module:" in text and "mildly flammable" in text


def test_where_nothing_deviates_it_says_what_could_not_be_seen():
    text = shown(found(without=("subcooling",)))
    assert "nothing deviates from what is usual; 1 of 16 signs are unknown" in text
    assert "unknown: subcooling: not measured" in text
    assert "Rossi and Braun" in text and "score" not in text


def test_while_it_learns_it_says_which_hours_do_not_count():
    learning = replace(found(), verdict="learning what is usual: 0 of 48 settled hours", ranking=())
    text = shown(learning)
    assert "the settled hours of the day under way do not count yet" in text and "Rossi" not in text
    assert "do not count yet" not in shown(found())


def test_without_any_settled_hour():
    text = shown(causes(MODULE, learnt(np.random.default_rng(1)), []))
    assert "likely causes, from 0 settled hours cannot tell: no settled hour of late" in text


def test_as_data():
    data = json.loads(json.dumps(causes_mapping(found(RESTRICTED, without=("oil_return_rise",)), "R-32")))
    assert data["named"] == data["ranking"][0]["name"] == "liquid_line_restricted"
    assert data["signs"]["subcooling"]["direction"] == 1
    assert data["signs"]["oil_return_rise"] == {"direction": None, "why": "not measured"}
    assert set(data["ranking"][0]) == {
        "name", "title", "score", "evidence_for", "evidence_against", "missing", "next_looks",
    }  # fmt: skip
    assert data["limits"] and any("flammable" in each for each in data["cautions"])

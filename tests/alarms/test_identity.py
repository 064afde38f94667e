"""Doubt of a layout, as an alarm: when it comes, and when it stays silent."""

import dataclasses

from agent.alarms import CATALOGUE, Condition, Past
from agent.alarms.identity import layout_doubt
from agent.assess import Baseline
from agent.piping import Layout
from tests.assess.piped import LATE, hours, module
from tests.assess.test_identity import LAYOUTS, LIBRARY

ENTRY = CATALOGUE["layout-doubt"]
EARLY = {"suction_pipe": 11.0, "accumulator_outlet": 13.5, "outdoor_coil_gas": 65.0}


def judged(this, given, **more):
    return layout_doubt(Past(this, Baseline(), tuple(given), library=tuple(LIBRARY), **more), ENTRY)


def test_what_another_layout_explains_and_this_one_does_not_is_told():
    found = judged(module(LAYOUTS["two-pipe-single-early"], EARLY), hours(EARLY))
    assert found.condition is Condition.BEYOND
    assert "either" in found.facts.text and "accumulator_outlet" in found.facts.probe


def test_a_layout_that_explains_all_is_clear():
    found = judged(module(LAYOUTS["two-pipe-twin-late"], LATE), hours(LATE))
    assert found.condition is Condition.CLEAR
    assert found.facts.text == "two-pipe-twin-late explains all that was seen"


def test_thin_hours_and_an_undescribed_layout_are_neither():
    late = module(LAYOUTS["two-pipe-twin-late"], LATE)
    assert judged(late, hours(LATE, count=2)).condition is Condition.UNKNOWN
    unknown = judged(module(Layout.unknown(), LATE), hours(LATE))
    assert unknown.condition is Condition.UNKNOWN and "no layout" in unknown.facts.text


def test_hours_that_were_learnt_count_with_those_of_late():
    """A rise that was there when it was learnt and is gone since is the oil's fault, not the layout's."""
    before = tuple(hours(LATE, count=16))
    past = Past(
        module(LAYOUTS["two-pipe-twin-late"], LATE),
        dataclasses.replace(Baseline(), hours={"cooling": before}),
        tuple(hours(LATE | {"compressor_inlet": 11.0}, count=16, first=200)),
        library=tuple(LIBRARY),
    )
    found = layout_doubt(past, ENTRY)
    assert found.condition is Condition.UNKNOWN and "(the last ones)" in found.facts.text
    assert "as on" not in found.facts.text  # no other layout is offered
    alone = layout_doubt(dataclasses.replace(past, baseline=Baseline()), ENTRY)
    assert "as on" in alone.facts.text and "blocked return" in alone.facts.text


def test_what_to_do_first_is_to_look_and_the_layout_stays():
    assert "do not change the layout" in ENTRY.first_response and ENTRY.by_hour

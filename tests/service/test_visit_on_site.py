"""What a brief tells whoever goes there: what is read now, what is hot now, and what to measure first."""

from dataclasses import replace

import pytest

from agent.alarms.journal import Transition
from agent.outlets.terminal.alarm_list import Happened
from agent.outlets.visit import render_brief
from agent.outlets.visit.beside import accumulator_words, rise_words
from agent.outlets.visit.measuring import ASKED, FIRST, to_measure
from agent.outlets.visit.piping import drawing
from agent.outlets.visit.readings import Raw, reading_rows, reads, valve_state
from agent.outlets.visit.then_now_table import table
from agent.service.look.visiting import gathered
from tests.service.look.test_visiting import Parsed
from tests.service.site import (
    HEALTHY_K,
    SECOND_US,
    SIGNALS,
    WET_K,
    minute,
    plan,
    told,
    world,
)

PIPE = {"unit": "degC", "accuracy": 0.5, "step": 0.1}
MORE = {
    "outdoor_coil_gas": PIPE,
    "outdoor_air": PIPE,
    "discharge_1": {"unit": "degC", "accuracy": 1.5, "step": 0.1},
    "discharge_2": {"unit": "degC", "accuracy": 1.5, "step": 0.1},
    "discharge_pressure": {"unit": "kPa", "reference": "gauge-vented", "accuracy": 30, "step": 1},
}


def floods(now):
    """From 0 to 1 between minutes 140 and 160."""
    return min(max((now - 140) / 20, 0.0), 1.0)


def returned(now):
    return HEALTHY_K + (WET_K - HEALTHY_K) * floods(now)


def more(minutes):
    """The whole machine; where liquid comes back the first discharge is 4 K colder, and the second is not."""
    for sample_us, name, value in told(0, minutes, returned, rise_k=9):
        now = (sample_us - minute(0)) / (60 * SECOND_US)
        wobble = 0.1 * (round(now * 2) % 3 - 1)
        yield sample_us, name, value + round(10 * wobble) if name == "suction_pressure" else value
        if name == "mode":
            yield sample_us, "outdoor_coil_gas", 56.0 + wobble
            yield sample_us, "outdoor_air", 28.0 + wobble
            yield sample_us, "discharge_1", round(65.0 - 4 * floods(now) + wobble, 1)
            yield sample_us, "discharge_2", 61.0 + wobble
            yield sample_us, "discharge_pressure", 2250 + round(10 * wobble)


@pytest.fixture(scope="module")
def wet(tmp_path_factory):
    folder = tmp_path_factory.mktemp("on-site")
    sets = {"polled": {"every_s": 30, "max_age_s": 120, "signals": {**SIGNALS, **MORE}}}
    site = plan(folder, elevation_m=0, alarms={"shadow_days": 0}, signal_sets=sets)
    with world(folder, site=site) as one:
        one.receive(more(260))
        one.work(260)
        yield gathered(one.store, site, site.modules[0], minute(0), minute(260), minute(260))


def cards(brief):
    return {card.what: card for card in to_measure(brief)}


def test_every_signal_is_told_as_it_reads_with_its_time(wet):
    rows = {row.signal: row for row in reading_rows(wet)}
    assert rows["discharge_1"].reads == "60.9 degC" and rows["discharge_1"].when == "12:19:30"
    assert (rows["compressor_1_speed"].reads, rows["bypass_valve"].reads) == ("55.0 Hz", "shut")
    assert rows["mode"].reads == "cooling"
    # 101.325 kPa at sea level: ISO 2533 standard atmosphere.
    assert rows["suction_pressure"].reads == "841.7 kPa gauge = 943.0 kPa absolute"


def test_a_reading_that_is_old_missing_or_unusable_says_so(wet):
    odd = {
        **wet.readings,
        "outdoor_air": Raw(minute(200), 28.0, "28.0"),
        "suction_pipe": Raw(minute(259), float("nan"), "-"),
    }
    rows = {row.signal: row for row in reading_rows(replace(wet, readings=odd))}
    assert rows["outdoor_air"].note == "1 h old"
    assert rows["suction_pipe"].reads == "cannot be used: -"
    bare = replace(wet, ambient_pa=None)
    assert reads(bare, "suction_pressure").startswith("943.0 kPa absolute (gauge not known")
    assert valve_state(replace(wet, readings={}), "bypass_valve") == "bypass_valve: not known"


def test_then_and_now_speaks_for_the_machine_where_the_discharge_fell_too(wet):
    """Compressor 2's does not move: the two do not agree, and nothing is said."""
    found = table(wet)
    rows = {row.name: row for row in found.rows}
    assert rows["return superheat"].then == "6.0 K" and rows["return superheat"].now == "0.4 K"
    assert rows["return superheat"].change.startswith("-5.6 K (U 1.")
    assert rows["discharge temperature 1"].change.startswith("-4.0 K")
    assert rows["subcooling"].then == rows["subcooling"].change.replace("\u2013", "not measurable")
    assert "does not tell whether it is the machine or the probe" in found.says
    rows = tuple(row for row in wet.then_now.rows if row.name != "discharge_temperature:2")
    alone = wet.then_now._replace(rows=rows)
    assert "speaks for the machine, not for the probe" in table(replace(wet, then_now=alone)).says


def test_where_there_is_nothing_to_compare_there_is_no_table(wet):
    nothing = tuple(row._replace(then="it did not run in cooling") for row in wet.then_now.rows)
    assert table(replace(wet, then_now=wet.then_now._replace(rows=nothing))) is None
    assert table(replace(wet, then_now=None)) is None


def test_the_drawing_is_of_now(wet):
    """In cooling the outdoor coil's pipe carries hot gas; with compressor 2 standing its branch is still."""
    for narrow in (False, True):
        svg = drawing(wet, narrow=narrow)
        assert svg.count("high side, HOT NOW") == 4 and ">heating<" not in svg
    assert "Drawn for cooling, as it ran at" in Parsed(render_brief(wet)).text
    assert 'class="pipe still"' not in drawing(wet, narrow=False)
    one = replace(wet.view, assessment=replace(wet.view.assessment, running=("1",)))
    assert 'class="pipe still"' in drawing(replace(wet, view=one), narrow=False)


def test_cards_stand_in_the_order_of_what_decides_now(wet):
    found = cards(wet)
    names = list(found)
    assert names[:2] == ["suction_pipe", "compressor_inlet; also after hot_gas_bypass"]
    assert {found[name].rank for name in names[:2]} == {FIRST}
    asked = [name for name in names if found[name].rank == ASKED]
    assert {"outdoor_coil_gas", "discharge_1", "after oil_return; also ahead of hot_gas_bypass"} <= set(asked)
    assert "HOT NOW" in found["outdoor_coil_gas"].warning and not found["suction_pipe"].warning
    assert "it tells nothing in cooling" in " ".join(found["outdoor_coil_gas"].why)
    assert "there may be no room" in found["after oil_return; also ahead of hot_gas_bypass"].where
    assert len(found["compressor_inlet; also after hot_gas_bypass"].commands) == 2


def test_a_card_says_what_the_module_reads_there_and_from_where_on_the_probe_is_at_fault(wet):
    """Rectangular limits of 0.5 K on both sides and a step of 0.1 K: JCGM 100:2008, 4.3.7 and 5.1.2."""
    u_k = 2 * (0.5**2 / 3 + 0.5**2 / 3 + 0.05**2 / 3) ** 0.5
    (said,) = cards(wet)["suction_pipe"].reads
    assert "the module reads 5.8 degC there at 12:19:30" in said or "reads 5.7" in said or "reads 5.9" in said
    assert f"more than {u_k:.1f} K apart (both instruments, k = 2)" in said
    (hot,) = cards(wet)["discharge_2"].reads
    assert hot.endswith("means the probe, its place, or the clamp, which reads low on a hot pipe")


def test_a_rise_that_oil_does_not_make_names_the_valve_beside_it(wet):
    said = rise_words(wet)
    assert said.startswith("9.0 K of rise is more than oil usually makes (1 to 5 K; common practice")
    assert said.endswith("bypass_valve is said to be shut at 12:19:30.")
    quantities = dict(wet.view.assessment.quantities)
    quantities["oil_return_rise"] = quantities["oil_return_rise"]._replace(value=3.0)
    usual = replace(wet.view, assessment=replace(wet.view.assessment, quantities=quantities))
    assert rise_words(replace(wet, view=usual)) == ""


def test_liquid_ahead_of_the_accumulator_is_not_yet_in_the_compressor(wet):
    assert accumulator_words(wet).startswith(
        "suction_pipe sits ahead of accumulator: liquid there is not yet"
    )
    assert accumulator_words(replace(wet, view=replace(wet.view, alarms=()))) == ""


def test_the_first_figure_begins_two_hours_before_the_alarm(wet):
    since_us = wet.cause.since_us
    assert wet.cause.name == "superheat-low" and wet.event.from_us == since_us - 2 * 3600 * SECOND_US
    text = Parsed(render_brief(wet)).text
    assert text.index("around the beginning of superheat-low") < text.index(
        "2025-11-25 08:00 UTC to 2025-11-25"
    )


def test_an_alarm_that_is_over_has_a_sentence_and_older_words_their_time(wet):
    path = wet.module.path
    raised = Happened(path, "watch-blind", minute(20), minute(20), Transition.RAISED, "it hunts", "")
    text = Parsed(render_brief(replace(wet, happened=(raised,)))).text
    assert "at 08:20: it hunts" in text
    assert "watch-blind : The module runs, and its return superheat cannot be decided." in text

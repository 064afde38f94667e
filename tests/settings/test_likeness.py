"""Which signal a record may be; names are those that gateways of no particular make could have."""

import pytest

from agent.settings import likely_signal, likely_topic, load
from tests.settings.site import good, write


@pytest.fixture(scope="module")
def modules(tmp_path_factory):
    return load(write(tmp_path_factory.mktemp("site"), good())).modules


def likely(modules, name, unit=None, text=False, arriving=(), topic=None):
    return likely_signal(topic or modules[0].topic, name, unit, text, modules, arriving)


@pytest.mark.parametrize(
    ("name", "unit", "signal"),
    [
        ("SuctionPipe", "Cel", "suction_pipe"),
        ("PipeSuction", "Cel", "suction_pipe"),
        ("suction-pressur", "kPa", "suction_pressure"),
        ("compressor.1.speed", "Hz", "compressor_1_speed"),
        ("Compressor2Current", "A", "compressor_2_current"),
        ("OUTDOOR_AIR", None, "outdoor_air"),
        ("bypass/valve", None, "bypass_valve"),
    ],
)
def test_by_name_whatever_its_case_separators_and_order(modules, name, unit, signal):
    assert likely(modules, name, unit).startswith(f"{signal} of ")


def test_a_unit_of_another_dimension_excludes_a_name(modules):
    assert "suction_pressure" in likely(modules, "suction_pressure", "kPa")
    assert "suction_pressure" not in (likely(modules, "suction_pressure", "Cel") or "")


def test_text_is_a_state(modules):
    assert likely(modules, "mode", text=True).startswith("mode of ")
    assert likely(modules, "suction_pipe", text=True) is None


def test_it_says_whether_the_signal_is_mapped(modules):
    path = str(modules[0].path)
    assert likely(modules, "suction_pipe").endswith("which is mapped and silent")
    assert likely(modules, "discharge_2").endswith("which is not in its signal set")
    assert likely(modules, "suction_pipe", arriving={(path, "suction_pipe")}) is None


def test_nothing_is_like_it(modules):
    assert likely(modules, "door_contact") is None
    assert likely(modules, "suction_pipe", topic="plant/elsewhere") is None


def test_a_topic_that_was_mistyped(modules):
    topic = modules[0].topic
    assert likely_topic(topic.replace("hill-house", "hillhouse"), [topic]) == topic
    assert likely_topic("weather/station", [topic]) is None

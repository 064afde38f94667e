"""Injection against the discharge: what opens should cool (energy balance; the limits are our own)."""

import pytest

from agent.assess import Baseline, Hour, learn
from agent.assess.byhour.hours import HOUR_US, Part, Stats
from agent.assess.byhour.injecting import answers
from agent.piping import Layout
from tests.assess.world import EARLY, module
from tests.piping.layouts import shipped

INJECTED = module(Layout.from_mapping(shipped("three-pipe-single-early-injection")))


def hour(number, opening, hot_c):
    quantities = {
        "injection": Stats(120, opening, opening, opening, 0.01),
        "discharge_temperature:1": Stats(120, hot_c, hot_c, hot_c, 0.5, 1.8, 1.8),
    }
    part = Part(120, 120, quantities, {"compressor_1_speed": Stats(120, 50.0, 50.0, 50.0, 0.1)})
    return Hour(number * HOUR_US, 30_000_000, {"cooling": part}, {}, {"1": 120}, {"1": 120}, {"1": 0})


LEARNT = learn([hour(n, 0.3 + 0.02 * (n % 3), 76.0 + n % 3) for n in range(8)], 0, 8)


@pytest.mark.parametrize(
    ("opening", "hot_c", "answer"),
    [
        (0.3, 77.0, True),
        (0.6, 77.0, True),  # it works harder, and the discharge is held
        (0.9, 95.0, False),  # it opens and nothing comes
        (0.0, 60.0, False),  # it is shut and something comes
        (0.3, 95.0, True),  # the heat is not for the injection to explain
    ],
)
def test_what_opens_should_cool(opening, hot_c, answer):
    (found,) = answers(INJECTED, LEARNT, [hour(30, opening, hot_c)])
    assert found.answers is answer
    assert f"open {opening:.0%}, usually 32%" in found.text


def test_what_cannot_be_told_says_why():
    (found,) = answers(INJECTED, Baseline(needed=8), [hour(30, 0.3, 77.0)])
    assert (found.answers, found.text) == (None, "learning what is usual: 0 of 8 settled hours")
    (found,) = answers(INJECTED, LEARNT, [])
    assert found.answers is None


def test_a_module_without_injection_has_none_to_judge():
    assert answers(module(EARLY), LEARNT, [hour(30, 0.3, 77.0)]) == []

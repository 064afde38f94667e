"""How a replay says where a quantity was taken."""

from agent.assess.compared import InMode
from agent.outlets.terminal.replay import SHOWN, _places
from agent.piping import RETURN, RISE


def test_a_rise_is_a_difference_and_streams_that_come_together_are_a_sum():
    taken = InMode("cooling", 100, 100, probes=(("compressor_inlet suction_pipe", 96), ("other", 4)))
    assert _places(taken, SHOWN[RISE]) == ["compressor_inlet - suction_pipe"]
    assert _places(taken, SHOWN[RETURN]) == ["compressor_inlet + suction_pipe"]

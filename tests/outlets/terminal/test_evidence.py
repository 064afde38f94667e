"""The sentences on what hours say of a module's instruments."""

from agent.assess.byhour.supervisor import identify
from agent.assess.plausible.suspicions import suspicions
from agent.assess.plausible.taken import Findings
from agent.assess.signals import SUPERVISOR
from agent.outlets.terminal.evidence import lines
from tests.assess.byhour.test_supervisor import by_hand, of
from tests.assess.ordinary import running
from tests.assess.plausible.test_suspicions import hours, swapped, this
from tests.assess.world import module

NOTHING = Findings((), ())


def test_each_verdict_has_its_sentence():
    known = {
        "is made of suction_pipe against dew": {"suction_pipe": (0.0, 0.1), "compressor_inlet": (9.0, 0.1)},
        "cannot tell which, made of suction_pipe against dew, or compressor_inlet against dew": {
            "suction_pipe": (0.0, 0.1),
            "compressor_inlet": (0.1, 0.1),
        },
        "none of the module's probes explains it": {"suction_pipe": (5.0, 0.1)},
    }
    for words, residuals in known.items():
        (line,) = lines([identify(by_hand(residuals), of(), "cooling")], NOTHING)
        assert line.startswith("the supervisor's superheat in cooling")
        assert words in line
    (line,) = lines([identify([], of(), "cooling")], NOTHING)
    assert "cannot tell yet, 0 of 6 settled hours" in line


def test_a_supervisor_that_shows_none_is_not_spoken_of():
    assert SUPERVISOR not in module().signals
    assert lines([identify([], module(), "cooling")], NOTHING) == []


def test_suspicions_come_before_what_cannot_be_told():
    found = suspicions(this(), hours(swapped(running(), "suction_pipe", "outdoor_coil_gas")))
    told = lines([], found)
    assert told[0].startswith("suspicion: outdoor_coil_gas reads")
    assert "were swapped. Look at the points in the mapping" in told[0]
    assert [line.split(":")[0] for line in told[1:]] == ["cannot tell"] * len(found.cannot_tell)
    assert len(told) > 1

"""From stored readings to the side on which a probe sits."""

from agent.service import tracked
from tests.service.site import SIGNALS, configuration, minute, plan, told, world

PIPE = SIGNALS["suction_pipe"]


def site(tmp_path):
    signals = {**SIGNALS, "second_suction": PIPE, "oil_valve": SIGNALS["bypass_valve"]}
    del signals["compressor_inlet"]
    polled = configuration()["signal_sets"]["polled"] | {"signals": signals}
    module = {"layout": "two-pipe-twin-unproven", "signal_set": "polled"}
    systems = {"one": {"refrigerant": "R-410A", "modules": {"m1": module}}}
    return plan(tmp_path, signal_sets={"polled": polled}, systems=systems)


def test_a_probe_that_answers_to_the_bypass(tmp_path):
    with world(tmp_path, site=site(tmp_path)) as one:
        batch = []
        for sample_us, name, value in told(0, 120):
            opened = (sample_us - minute(0)) // 60_000_000 % 60 >= 40
            if name == "compressor_inlet":
                batch.append((sample_us, "second_suction", value + 4.0 * opened))
            elif name == "bypass_valve":
                batch += [(sample_us, name, int(opened)), (sample_us, "oil_valve", 0)]
            else:
                batch.append((sample_us, name, value))
        one.receive(batch)
        (found,) = tracked(one.store, one.plan, one.watched.plan, minute(0), minute(120))
        assert (found.probe, found.side) == ("second_suction", "after")
        assert found.text == "it moves by +4.0 K when hot_gas_bypass opens: it sits after it"


def test_nothing_is_asked_of_a_layout_that_leaves_nothing_open(tmp_path):
    with world(tmp_path) as one:
        assert tracked(one.store, one.plan, one.watched.plan, minute(0), minute(10)) == []

"""Described with the wrong layout from the first day: the same point is another probe under the right one."""

import orjson

from tests.service.site import SIGNALS, configuration, minute, plan, told, world

END = 90
PIPE = SIGNALS["suction_pipe"]
SETS = {
    "early-names": {"suction_pipe", "suction_pressure", "mode", "compressor_1_speed", "bypass_valve"},
    "late-names": {"suction_pipe", "suction_pressure", "mode", "compressor_1_speed", "bypass_valve"},
}


def site(tmp_path, layout):
    """Two sets with the same points, of which one is the accumulator's outlet here and the inlet there."""
    described = {}
    for name, kept in SETS.items():
        signals = {signal: SIGNALS[signal] for signal in kept}
        second = "accumulator_outlet" if name == "early-names" else "compressor_inlet"
        signals[second] = {**PIPE, "point": "second_probe"}
        described[name] = {"every_s": 30, "max_age_s": 120, "signals": signals}
    module = {"layout": layout, "signal_set": "early-names"}
    systems = {"one": {"refrigerant": "R-410A", "modules": {"m1": module}}}
    return plan(tmp_path, **{**configuration(), "signal_sets": described, "systems": systems})


def rises(one):
    said = {}
    for grid_us, (basis, figures) in one.assessed.items():
        words, flat = orjson.loads(basis)["said"], orjson.loads(figures)
        number = list(words).index("oil_return_rise")
        said[grid_us] = (words["oil_return_rise"][0], flat[3 * number])
    return said


def arriving(one):
    """The story by the names under which the module's points are stored now."""
    known = one.watched.signal_ids
    second = "accumulator_outlet" if "accumulator_outlet" in known else "compressor_inlet"
    for sample_us, name, value in told(0, END):
        stored = second if name == "compressor_inlet" else name
        if stored in known:
            yield sample_us, stored, value


def test_what_came_in_as_one_probe_is_read_as_the_other(tmp_path):
    early = site(tmp_path, "two-pipe-single-early")
    with world(tmp_path, site=early) as one:
        one.store.register_mapping(early.mapping, 0)
        one.receive(arriving(one))
        one.work(END)
        assert {status for status, _ in rises(one).values()} <= {"not_measurable", "not_decidable"}
        entry = {
            "layout": "two-pipe-twin-late",
            "signal_set": "late-names",
            "valid_from": "2025-11-25T08:40+00:00",
            "by": "A. Fitter",
            "why": "followed the oil pipe",
        }
        one.plan = site(tmp_path, [{"layout": "two-pipe-single-early"}, entry])
        one.opened_us = minute(END)
        one.restart()
        one.work(END)
        found = rises(one)
        before = {status for at, (status, _) in found.items() if at < minute(40)}
        assert before <= {"not_measurable", "not_decidable"}
        decided = [value for at, (status, value) in found.items() if at >= minute(60) and status == "decided"]
        assert decided
        assert {round(value, 1) for value in decided} == {3.0}

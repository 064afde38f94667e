"""A layout or a module in words, within 80 columns and with all that the piping says, and as a mapping."""

import re

import orjson
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.outlets import explained, explained_mapping, explanation_of
from agent.outlets.terminal.explaining import MEANS
from agent.outlets.terminal.instrumentation import uncertainties
from agent.piping import RISE, Layout, Standing, explain
from agent.settings import QUANTITIES
from agent.thermo import dew_temperature
from tests.piping.layouts import layout, mappings, shipped
from tests.piping.tangles import tangles
from tests.settings.site import changed, good, plan

MODULE = ("systems", "north", "modules", "n1")


def said(explanation, module=None, **more):
    return "\n".join(line.plain for line in explained(explanation, module, **more))


def flowing(text):
    return " ".join(text.split())


def of_module(tmp_path, data):
    module = plan(tmp_path, data).modules[0]
    return explanation_of(module.module.layout, module), module


@pytest.fixture
def late():
    return Layout.from_mapping(shipped("two-pipe-twin-late"))


class TestLayout:
    def test_each_place_with_the_probe_that_speaks_how_well_and_why(self, late):
        text = flowing(said(explain(late)))
        for sentence in (
            "cooling suction_pipe, fit: all returning vapour, before anything is mixed in",
            "heating outdoor_coil_gas, fit: all returning vapour",
            "compressor_inlet, upper bound: oil_return (warms) joins upstream",
            "a high value proves nothing; one at or below zero is strong evidence of liquid",
            "compressor_inlet minus suction_pipe, fit: only oil_return joins between them",
            "bypass_valve open or not known: not decidable: not attributable",
            "lacking a probe between the accumulator and oil_return would make it measurable (fit)",
            "discharge_1, discharge_2 every mode high side: it sits on the discharge side",
        ):
            assert sentence in text
        assert text.count("Local codes") == 1

    def test_a_value_that_could_be_better(self):
        drawn = layout("evaporator:coil vessel:accumulator probe:out transducer:p compressor:1")
        text = flowing(said(explain(drawn)))
        assert "out, after accumulator: taken after the accumulator" in text
        assert "a probe between coil and the accumulator would measure it better (fit)" in text

    def test_where_no_single_probe_helps_it_says_so(self):
        drawn = layout(
            "evaporator:coil segment:pipe transducer:p probe:t compressor:1",
            modes={"heating": {"evaporators": ["coil"], "high_side": ["pipe"]}},
        )
        text = flowing(said(explain(drawn)))
        assert text.count("no single probe would make it measurable in heating") == len(QUANTITIES)
        assert text.count("Local codes") == 1

    def test_every_standing_has_its_meaning(self):
        assert set(MEANS) == set(Standing)

    def test_a_layout_without_a_mode(self, late):
        assert "nothing can be judged" in said(explain(late, []))

    @settings(max_examples=60, deadline=None)
    @given(st.one_of(mappings().map(Layout.from_mapping), tangles()), st.sampled_from((40, 70, 80, 200)))
    def test_never_wider_than_80(self, drawn, width):
        lines = explained(explain(drawn), width=width)
        assert max(len(line.plain) for line in lines) <= 80
        assert [line.plain for line in lines if line.plain != line.plain.rstrip()] == []


class TestModule:
    def test_only_probes_that_its_signals_give(self, tmp_path):
        explanation, module = of_module(tmp_path, good())
        text = flowing(said(explanation, module))
        assert "hill-house/north/n1 on layout two-pipe-twin-late" in text
        assert (
            "outdoor_coil_gas no readings the layout has it, the module has no signal outdoor_coil_gas"
            in text
        )
        assert "lacking readings of outdoor_coil_gas would make it measurable in heating (fit)" in text

    def test_a_valve_that_no_signal_tells_of_is_never_known_shut(self, tmp_path):
        data = good()
        signals = data["signal_sets"]["polled"]["signals"]
        data = changed(
            ("signal_sets", "polled", "signals"), {n: s for n, s in signals.items() if n != "bypass_valve"}
        )
        explanation, module = of_module(tmp_path, data)
        assert explanation.silent_valves == ("bypass_valve",)
        assert "No signal tells of bypass_valve: it is never known to be shut." in said(explanation, module)
        assert explanation.places[RISE]["cooling"].found.standing is Standing.NOT_DECIDABLE

    def test_the_site_s_own_probe_where_it_is_not_fit(self, tmp_path):
        data = changed((*MODULE, "configured_probe"), "compressor_inlet")
        text = flowing(said(*of_module(tmp_path, data)))
        assert "the site takes superheat here" in text
        assert "compressor_inlet every mode NOT FIT: mixed: oil_return (warms) joins upstream" in text

    def test_the_site_s_own_probe_where_it_is_fit_in_one_mode(self, tmp_path):
        data = changed((*MODULE, "configured_probe"), "suction_pipe")
        text = flowing(said(*of_module(tmp_path, data)))
        assert (
            "cooling fit: all returning vapour, before anything is mixed in heating NOT FIT: high side"
            in text
        )

    def test_the_site_s_own_probe_that_is_not_heard(self, tmp_path):
        data = changed((*MODULE, "configured_probe"), "outdoor_coil_gas")
        assert "outdoor_coil_gas NOT HEARD: no readings of it come" in flowing(
            said(*of_module(tmp_path, data))
        )

    def test_uncertainty_at_a_typical_pressure(self, tmp_path):
        """Without a loss and a model error 0.73 K, worked after JCGM 100 for ±10 kPa and ±0.5 K at 800 kPa.

        Here the dew slope is a little smaller; the signals' steps and the saturation model add a little.
        """
        _, module = of_module(tmp_path, good())
        found = uncertainties(module)
        late, ahead = found["compressor_inlet"], found["suction_pipe"]
        assert late.below == late.above == pytest.approx(0.73, abs=0.08)
        assert late.value == pytest.approx(5.0, abs=0.01)
        assert ahead.above == pytest.approx(late.above)
        at_5 = 933_000.0  # R-410A dew at 5 degC lies near it, see the saturation tests
        loss_k = dew_temperature("R-410A", at_5 + 30_000.0) - dew_temperature("R-410A", at_5)
        assert ahead.below - ahead.above == pytest.approx(loss_k, abs=0.02)

    def test_instruments_that_cannot_prove_dry_suction(self, tmp_path):
        assert "cannot prove" not in said(*of_module(tmp_path, good()))
        text = flowing(said(*of_module(tmp_path, changed((*MODULE, "unknown_loss_kpa"), 80.0))))
        (found,) = re.findall(r"suction_pipe: -([\d.]+) \+[\d.]+ K; they cannot prove dry suction near", text)
        at_5 = 933_000.0
        loss_k = dew_temperature("R-410A", at_5 + 80_000.0) - dew_temperature("R-410A", at_5)
        assert float(found) == pytest.approx(0.73 + loss_k, abs=0.15)
        assert text.count("cannot prove") == 1  # the probe beside the transducer has no loss

    def test_a_stated_loss_and_the_limits_of_the_site(self, tmp_path):
        data = changed((*MODULE, "pressure_loss_kpa"), {"suction_pipe": 12.0})
        data["limits"] = {"superheat-low": {"limit_k": 3.0}}
        text = flowing(said(*of_module(tmp_path, data)))
        assert "with a pressure loss of 12 kPa taken off" in text
        assert "superheat-low: 3 K, 0.5 K where second best, for 10 min" in text


class TestMapping:
    def test_a_program_reads_the_same(self, late):
        body = orjson.loads(orjson.dumps(explained_mapping(explain(late))))
        assert body["modes"] == ["cooling", "heating"]
        rise = body["places"]["oil_return_rise"]["modes"]["cooling"]
        assert (rise["standing"], rise["probes"]) == ("fit", ["compressor_inlet", "suction_pipe"])
        assert rise["changes"][0]["when"] == "bypass_valve open or not known"
        (advice,) = body["places"]["accumulator_change"]["lacking"]
        assert advice["position"] == {
            "after": {"vessel": "accumulator"},
            "ahead_of": {"inlet": "oil_return"},
            "on": [],
        }
        assert body["probes"]["compressor_inlet"]["heating"]["joined"] == ["oil_return"]

    def test_a_module_tells_its_instruments_and_limits(self, tmp_path):
        explanation, module = of_module(tmp_path, good())
        body = orjson.loads(orjson.dumps(explained_mapping(explanation, module)))
        assert body["module"] == "hill-house/north/n1"
        assert body["without_readings"] == ["outdoor_coil_gas"]
        assert body["limits"]["superheat-low"]["limit_k"] == 2.0
        assert set(body["superheat_uncertainty_k"]) == {"suction_pipe", "compressor_inlet"}

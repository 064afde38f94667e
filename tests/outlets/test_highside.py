"""The high side in metrics, status, history and messages: figures with their unit, and no number for none."""

from dataclasses import replace

import pytest

from agent.assess import (
    DISCHARGE_MARGIN,
    DISCHARGE_SUPERHEAT,
    DISCHARGE_TEMPERATURE,
    PRESSURE_RATIO,
    SATURATED_CONDENSING,
    SUBCOOLING,
    Cause,
    Status,
)
from agent.outlets import Metrics
from agent.outlets.highside import highside_lines
from agent.outlets.messages import as_mapping
from agent.outlets.terminal.history import assessment_rows
from tests.outlets.views import NOON_US, assessment, decided, shown, without

STANDS = without(Status.NOT_DECIDABLE, Cause.MODE, "compressor 2 stands")
FOUND = {
    SATURATED_CONDENSING: decided(41.2, 0.3, 0.3),
    PRESSURE_RATIO: decided(3.1, 0.1, 0.1),
    SUBCOOLING: decided(6.2, 1.7, 0.7, "liquid_line"),
    DISCHARGE_TEMPERATURE + "1": decided(63.0, 1.2, 1.2, "discharge_1"),
    DISCHARGE_SUPERHEAT + "1": decided(21.8, 1.2, 1.2, "discharge_1"),
    DISCHARGE_MARGIN + "1": decided(-3.0, 9.0, 9.0, "discharge_1"),
    DISCHARGE_TEMPERATURE + "2": STANDS._replace(value=30.0),
    DISCHARGE_SUPERHEAT + "2": STANDS,
    DISCHARGE_MARGIN + "2": STANDS,
}


def view(**changes):
    of = assessment()
    return shown(replace(of, quantities={**of.quantities, **FOUND, **changes}))


def samples(of):
    metrics = Metrics(lambda: NOON_US, 10**9, {})
    metrics.show(of)
    return {
        (
            sample.name,
            *(sample.labels.get(key, "") for key in ("compressor", "place", "side", "status")),
        ): sample.value
        for family in metrics.collect()
        for sample in family.samples
    }


class TestMetrics:
    def test_values_and_their_uncertainty(self):
        found = samples(view())
        for name, compressor, value in (
            ("saturated_condensing_celsius", "", 41.2),
            ("pressure_ratio", "", 3.1),
            ("subcooling_kelvin", "", 6.2),
            ("discharge_temperature_celsius", "1", 63.0),
            ("discharge_temperature_celsius", "2", 30.0),
            ("discharge_superheat_kelvin", "1", 21.8),
            ("discharge_margin_kelvin", "1", -3.0),
        ):
            assert found[f"dewline_{name}", compressor, "", "", ""] == value
        spread = "dewline_superheat_uncertainty_kelvin"
        assert found[spread, "", "subcooling", "below", ""] == 1.7
        assert found[spread, "", "discharge_margin:1", "above", ""] == 9.0
        assert found["dewline_quantity_status", "", "discharge_margin:2", "", "not_decidable"] == 1

    def test_what_has_no_value_is_absent(self):
        found = samples(view(**{SUBCOOLING: without(Status.NOT_MEASURABLE, Cause.PIPING, "no probe")}))
        names = {key[:2] for key in found}
        assert ("dewline_subcooling_kelvin", "") not in names
        for name in ("discharge_superheat_kelvin", "discharge_margin_kelvin"):
            assert (f"dewline_{name}", "2") not in names
        assert not any("subcooling" in key[2] and key[3] for key in found)

    def test_an_older_assessment_has_none(self):
        assert not any("discharge" in name for name, *_ in samples(shown()))


class TestStatus:
    def lines(self, **changes):
        return {what: (figure, text) for what, figure, text in highside_lines(view(**changes).assessment)}

    def test_a_line_each(self):
        found = self.lines()
        assert found["subcooling"] == ("6.2 K -1.7 +0.7", "liquid_line: all vapour passes here")
        assert found["discharge 1"][0] == "21.8 K ±1.2"
        assert found["discharge 1"][1] == (
            "63.0 degC; superheat at discharge_1; saturated suction would give 16 to 34 K: wet or dry not "
            "decided"
        )
        assert found["discharge 2"] == ("not decidable", "30.0 degC; compressor 2 stands")
        assert found["saturation"] == (
            "", "saturated suction 5.4 degC, condensing 41.2 degC, pressure ratio 3.10"
        )  # fmt: skip

    @pytest.mark.parametrize(
        ("margin", "word"), [(-9.5, "22 to 40 K: below it: wet"), (9.5, "3 to 21 K: above it: dry")]
    )
    def test_wet_and_dry(self, margin, word):
        found = self.lines(**{DISCHARGE_MARGIN + "1": decided(margin, 9.0, 9.0, "discharge_1")})
        assert word in found["discharge 1"][1]

    @pytest.mark.parametrize(("superheat", "thins"), [(9.9, True), (10.0, False)])
    def test_oil_may_be_thin_where_nothing_is_decided(self, superheat, thins):
        """Under about 10 K in a high-side shell: common practice, no source."""
        found = self.lines(**{DISCHARGE_SUPERHEAT + "1": decided(superheat, 1.2, 1.2, "discharge_1")})
        assert ("may be diluted; no proof of wet suction" in found["discharge 1"][1]) is thins

    def test_missing_is_no_number(self):
        found = self.lines(
            **{SATURATED_CONDENSING: without(Status.MISSING, text="discharge_pressure is missing")}
        )
        assert found["saturation"][1] == (
            "saturated suction 5.4 degC, condensing -, pressure ratio 3.10; discharge_pressure is missing"
        )
        assert list(highside_lines(assessment())) == []


def test_history_has_a_column_with_its_unit_and_a_status():
    (row,) = assessment_rows([view().assessment], {})
    assert (row["subcooling_kelvin"], row["subcooling_status"]) == (6.2, "decided")
    assert (row["discharge_superheat_1_kelvin"], row["discharge_superheat_1_status"]) == (21.8, "decided")
    assert (row["discharge_superheat_2_kelvin"], row["discharge_superheat_2_status"]) == (
        None,
        "not_decidable",
    )
    assert row["discharge_temperature_1_celsius"] == 63.0
    assert (row["pressure_ratio"], row["saturated_condensing_celsius"]) == (3.1, 41.2)


def test_a_message_carries_every_quantity():
    quantities = as_mapping(view())["quantities"]
    assert quantities.keys() >= FOUND.keys()
    assert quantities[DISCHARGE_SUPERHEAT + "2"]["value"] is None
    assert quantities[DISCHARGE_SUPERHEAT + "2"]["reason"] == "compressor 2 stands"

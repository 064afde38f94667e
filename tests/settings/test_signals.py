"""From values as received to SI: units of each reading, references, words."""

import numpy as np
import pytest

from agent.assess.signals import (
    FAN_SIGNALS,
    FLAGS,
    LIQUID_LINE,
    MODE_SIGNAL,
    OUTDOOR_AIR,
    REVERSING_VALVE,
    SUPERVISOR,
    current_of,
    speed_of,
)
from agent.piping import Layout
from agent.settings.signals import Conversion, compressors_named, known_signals, sentinels_of, word
from agent.settings.source import Source
from agent.units import Dimension
from tests.piping.layouts import shipped
from tests.settings.site import LAYOUTS

TEMPERATURE = Conversion(Dimension.TEMPERATURE, "degC")


def converted(conversion, *readings):
    """Values in SI of readings given as (value, unit stated by the payload)."""
    times = np.arange(len(readings), dtype=np.int64)
    samples = conversion.samples(times, [value for value, _ in readings], [unit for _, unit in readings])
    assert samples.time_us is times
    assert samples.value.dtype == np.float64
    return samples.value.tolist()


def test_no_readings_are_no_samples():
    for conversion in (TEMPERATURE, Conversion(None), Conversion(None, words={"1": 1.0})):
        assert converted(conversion) == []


def test_each_reading_has_its_own_unit():
    """12 degC is 53.6 degF and 285.15 K by definition (SI brochure)."""
    found = converted(TEMPERATURE, (12.0, None), (53.6, "degF"), (285.15, "K"), (12, "Cel"))
    assert found == pytest.approx([12.0] * 4, abs=1e-12)


def test_the_payload_s_unit_goes_before_the_configured_one():
    assert converted(Conversion(Dimension.PRESSURE, "kPa"), (1, None), (1, "bar"), (1, "Pa")) == [
        1e3,
        1e5,
        1.0,
    ]


def test_an_unknown_unit_or_one_of_another_dimension_is_not_usable():
    found = converted(TEMPERATURE, (12.0, "furlong"), (12.0, "kPa"), (12.0, "%"), (12.0, ""), (12.0, None))
    assert np.isnan(found[:4]).all()
    assert found[4] == 12.0


@pytest.mark.parametrize("value", ["12.0 kPa", "1,234", "", "open", float("nan")])
def test_text_that_is_no_such_number_is_not_usable(value):
    found = converted(TEMPERATURE, (11.0, None), (value, None), (12.0, None))
    assert np.isnan(found[1])
    assert [found[0], found[2]] == [11.0, 12.0]


def test_text_is_read_as_the_number_and_unit_that_it_holds():
    """12 degC is 53.6 degF and 285.15 K by definition (SI brochure)."""
    found = converted(
        TEMPERATURE, ("12.0 degC", None), (" 12 ", None), ("12,0", "Cel"), ("53.6 °F", None), ("285.15", "K")
    )
    assert found == pytest.approx([12.0] * 5, abs=1e-12)
    assert converted(TEMPERATURE, ("12 °C", "K"), (12, None)) == [12.0, 12.0]  # what the text says is nearer
    assert TEMPERATURE.unit_of("53.6 F", None) == "degF"
    assert [TEMPERATURE.unit_of("12", unit) for unit in ("K", None)] == ["K", "degC"]


def test_a_mended_unit_reads_what_is_stored_anew():
    """1 bar is 100 kPa by definition; 8 was taken for kPa and is bar."""
    stored = ((8, None), ("8", None), ("800 kPa", None))
    assert converted(Conversion(Dimension.PRESSURE, "kPa"), *stored) == [8e3, 8e3, 8e5]
    assert converted(Conversion(Dimension.PRESSURE, "bar"), *stored) == [8e5, 8e5, 8e5]


SENTINELS = sentinels_of([-999, 327.67, "N/A", "", "0x10"])


@pytest.mark.parametrize("value", [-999, -999.0, "-999", "-999.0", " -999 degC", 327.67, "N/A", " N/A ", ""])
def test_a_sentinel_is_no_value_and_no_mistake(value):
    conversion = Conversion(Dimension.TEMPERATURE, "degC", sentinels=SENTINELS)
    assert conversion.is_sentinel(value)
    first, second = converted(conversion, (value, None), (12.0, None))
    assert np.isnan(first)
    assert second == 12.0
    plain = Conversion(None, sentinels=SENTINELS)
    assert np.isnan(converted(plain, (value, None))).all()


@pytest.mark.parametrize("value", [-998, 0, "0", "999", "n/a", "N/A 5", "-999 things", "12 degC"])
def test_what_is_no_sentinel(value):
    assert not Conversion(None, sentinels=SENTINELS).is_sentinel(value)
    assert not Conversion(None).is_sentinel(value)


def test_a_mended_sentinel_reads_what_is_stored_anew():
    before = Conversion(Dimension.TEMPERATURE, "degC")
    after = Conversion(Dimension.TEMPERATURE, "degC", sentinels=sentinels_of([-40]))
    assert converted(before, (-40, None)) == [-40.0]
    assert np.isnan(converted(after, (-40, None))).all()


def test_a_gauge_pressure_counts_from_its_reference_in_every_unit():
    """1 psi = 6894.757 Pa (NIST SP 811, B.8, from memory)."""
    gauge = Conversion(Dimension.PRESSURE, "psi", reference_pa=101_325.0)
    found = converted(gauge, (100, None), (689.4757, "kPa"), (0, "bar"))
    assert found == pytest.approx([790_800.7, 790_800.7, 101_325.0], abs=0.1)


def test_a_number_without_unit_stays_as_it_is():
    assert converted(Conversion(None), (1, None), (0.0, None), (True, None))[:3] == [1.0, 0.0, 1.0]
    assert np.isnan(converted(Conversion(None), ("open", None))).all()


def test_words_of_a_state():
    """A gateway sends 1, 1.0, true or "1" for one state; what nobody described is not usable."""
    state = Conversion(None, words={"1": 3.0, "cool": 3.0, "0": 1.0})
    assert converted(state, *((v, None) for v in (1, 1.0, "1", " 1 ", True, "cool"))) == [3.0] * 6
    assert converted(state, (0, None), (False, None), (-0.0, None)) == [1.0] * 3
    assert np.isnan(converted(state, (2, None), (1.5, None), ("COOL", None), ("", None))).all()


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (1, "1"),
        (1.0, "1"),
        (True, "1"),
        ("1", "1"),
        ("1.0", "1"),
        ("01", "1"),
        ("1,5", "1.5"),
        ("1 A", "1 A"),
        ("0x10", "0x10"),
        ("1,234", "1,234"),
        (-3.0, "-3"),
        (1.5, "1.5"),
        (" cool ", "cool"),
        (1_000_000, "1000000"),
        (1_048_577.0, "1048577"),
        (2**53, "9007199254740992"),
        (0.1234567, "0.1234567"),
        (float("inf"), "inf"),
    ],
)
def test_word(value, text):
    assert word(value) == text


def test_large_numbers_are_different_words():
    """A mode point that is a set of bits: codes beyond six digits do not run together."""
    assert len({word(2**20 + n) for n in range(10)}) == 10


STATES_OF_ALL = {"mode", "reversing_valve", "outdoor_fan", "defrost", "oil_recovery"}


def test_known_signals_of_a_layout():
    layout = Layout.from_mapping(Source(LAYOUTS / "two-pipe-twin-late.yaml").data)
    known = known_signals(layout)
    assert {name for name, kind in known.items() if kind is None} == STATES_OF_ALL | {"bypass_valve"}
    assert {name for name, kind in known.items() if kind is Dimension.PRESSURE} == {
        "suction_pressure",
        "discharge_pressure",
    }
    assert known["compressor_2_speed"] is Dimension.FREQUENCY
    assert known["compressor_2_current"] is Dimension.CURRENT
    assert known["compressor_inlet"] is known["discharge_2"] is known["liquid_line"] is Dimension.TEMPERATURE
    assert "accumulator_outlet" not in known


def test_known_signals_of_a_layout_with_coils_injection_and_liquid_side():
    def known(name):
        return known_signals(Layout.from_mapping(Source(LAYOUTS / f"{name}.yaml").data))

    recovery = known("three-pipe-single-early-injection")
    assert {name for name, kind in recovery.items() if kind is None} == STATES_OF_ALL | {
        "bypass_valve",
        "coil_valve",
    }
    assert recovery["injection_valve"] is Dimension.RATIO
    assert recovery["coil_liquid"] is recovery["liquid_line"] is Dimension.TEMPERATURE


def test_the_liquid_line_is_known_where_no_liquid_side_is_described():
    mapping = Source(LAYOUTS / "two-pipe-twin-late.yaml").data
    other = [{"coil": "outdoor_coil"}, {"probe": "header"}, {"coil": "indoor_units"}]
    for piping in mapping["modes"].values():
        del piping["expands"]
    described = known_signals(Layout.from_mapping(mapping | {"liquid_side": [other]}))
    assert "header" in described
    assert "liquid_line" not in described
    for piping in mapping["modes"].values():
        del piping["condensers"]
    del mapping["liquid_side"]
    assert known_signals(Layout.from_mapping(mapping))["liquid_line"] is Dimension.TEMPERATURE


def test_known_signals_of_the_unknown_layout():
    layout = Layout.unknown(compressors_named(["compressor_2_speed", "mode", "compressor_10_current"]))
    assert layout.compressors == ("10", "2")
    stated = {"a_pipe": "K", "a_valve": None, "a_flow": "l/min", "compressor_2_speed": None}
    known = known_signals(layout, stated)
    assert known["a_pipe"] is Dimension.TEMPERATURE
    assert known["a_valve"] is known["a_flow"] is known["mode"] is None
    assert known["compressor_2_speed"] is Dimension.FREQUENCY
    assert known["suction_pressure"] is known["discharge_pressure"] is Dimension.PRESSURE
    assert known["liquid_line"] is known["outdoor_air"] is Dimension.TEMPERATURE


def test_every_signal_that_the_assessment_knows_by_name_can_be_mapped():
    known = known_signals(Layout.unknown(["1", "2"]))
    by_compressor = [of(compressor) for of in (speed_of, current_of) for compressor in ("1", "2")]
    one = {MODE_SIGNAL, REVERSING_VALVE, OUTDOOR_AIR, LIQUID_LINE, SUPERVISOR}
    assert {*one, *FAN_SIGNALS, *FLAGS, *by_compressor} <= known.keys()
    assert compressors_named(by_compressor) == ["1", "2"]


def test_a_difference_counts_from_no_zero():
    """A superheat of 9 degF is 5 K, and one of 5 K is no temperature near absolute zero."""
    superheat = Conversion(Dimension.DIFFERENCE, "K")
    assert converted(superheat, (5.0, None), (5.0, "K"), (5.0, "Cel"), ("5.0 degC", None)) == [5.0] * 4
    assert converted(superheat, (9.0, "delta_degF"), (-3.6, "delta_degF")) == [5.0, -2.0]
    assert np.isnan(converted(superheat, (9.0, "degF"), (9.0, "bar"))).all()
    assert np.isnan(converted(TEMPERATURE, (9.0, "delta_degF"))).all()


def test_what_a_layout_s_signals_are():
    known = known_signals(Layout.from_mapping(shipped("two-pipe-single-early")))
    assert known["outdoor_expansion"] is known["indoor_expansion"] is Dimension.RATIO
    assert known["supervisor_superheat"] is Dimension.DIFFERENCE
    assert known["bypass_valve"] is None
    assert known_signals(Layout.unknown(), {"supervisor_superheat": "K"})["supervisor_superheat"] is (
        Dimension.DIFFERENCE
    )


@pytest.mark.parametrize(
    ("value", "unit", "found"),
    [
        (12, None, (12.0, None)),
        (12.5, "K", (12.5, "K")),
        ("12.5", "K", (12.5, "K")),
        ("54 °F", None, (54.0, "degF")),
        ("N/A", None, None),
        (-999, "degC", None),
        ("-999.0 degC", None, None),
        (float("inf"), None, None),
    ],
)
def test_what_of_a_value_as_received_is_a_number(value, unit, found):
    conversion = Conversion(Dimension.TEMPERATURE, "degC", sentinels=sentinels_of([-999]))
    assert conversion.number_of(value, unit) == found
    assert Conversion(None, words={"1": 1.0}).number_of(value, unit) is None

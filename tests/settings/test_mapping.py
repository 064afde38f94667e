"""Where signals come in, what is subscribed to for it, and what a mended mapping makes of older readings."""

import json

import pytest

from agent.settings import Payload, ended_filters, moved
from agent.settings.mapping import Mapped, addresses, topic_filters, write_mapping
from tests.settings.site import changed, good, plan

M1, M2 = "hill-house/north/n1", "hill-house/north/n2"
TOPIC = f"plant/{M1}"
IDS = {(M1, "suction_pipe"): 1, (M1, "compressor_inlet"): 2, (M1, "liquid_line"): 3, (M2, "suction_pipe"): 4}
SET = ("signal_sets", "polled")


def kind(of, **more):
    data = changed((*SET, "payload"), of)
    data["signal_sets"]["polled"] |= more
    return data


def mapping(**points):
    """JSON of a mapping in which points of one topic are signals; a tuple names the module too."""
    found = {}
    for point, signal in points.items():
        path, name = signal if isinstance(signal, tuple) else (M1, signal)
        found[TOPIC, point] = Mapped(path, name, "degC", None, Payload())
    return write_mapping(found)


class TestPlan:
    def test_a_json_point_is_the_signal_s_name_unless_it_says(self, tmp_path):
        data = kind("json", time="/at")
        data["signal_sets"]["polled"]["signals"]["suction_pipe"]["point"] = "/pipes/0"
        module = plan(tmp_path, data).modules[0]
        assert module.payload == Payload("json", "/at")
        assert module.points["/pipes/0"] == "suction_pipe"
        assert module.addresses[TOPIC, "/mode"] == "mode"

    def test_a_scalar_has_a_topic_of_its_own(self, tmp_path):
        data = kind("scalar")
        data["signal_sets"]["polled"]["signals"]["suction_pipe"]["point"] = "pipes/suction"
        module = plan(tmp_path, data).modules[0]
        assert module.addresses[f"{TOPIC}/pipes/suction", ""] == "suction_pipe"
        assert module.addresses[f"{TOPIC}/mode", ""] == "mode"
        assert len(module.addresses) == len(module.points)

    def test_the_mapping_tells_the_kinds_apart_and_keeps_the_form_of_senml(self, tmp_path):
        senml, scalar = (json.loads(plan(tmp_path, data).mapping) for data in (good(), kind("scalar")))
        dated = json.loads(plan(tmp_path, kind("json", time="/at")).mapping)
        assert senml[TOPIC]["suction_pipe"] == [M1, "suction_pipe", "degC"]
        assert dated[TOPIC]["/suction_pipe"] == [M1, "suction_pipe", "degC", None, "json", "/at"]
        assert scalar[f"{TOPIC}/suction_pipe"] == {"": [M1, "suction_pipe", "degC", None, "scalar", None]}

    def test_a_signal_s_sentinels_stand_in_place_of_the_set_s(self, tmp_path):
        data = kind("senml", sentinels=[-999, "N/A"])
        data["signal_sets"]["polled"]["signals"]["suction_pipe"]["sentinels"] = [32767]
        conversions = plan(tmp_path, data).modules[0].conversions
        assert conversions["compressor_inlet"].sentinels == conversions["mode"].sentinels == {-999.0, "N/A"}
        assert conversions["suction_pipe"].sentinels == {32767.0}

    @pytest.mark.parametrize("more", [{"payload": "json"}, {"sentinels": [-999]}])
    def test_a_payload_or_sentinel_makes_another_revision(self, tmp_path, more):
        before = plan(tmp_path, good()).modules[0].revision
        assert plan(tmp_path, kind("senml", **more)).modules[0].revision != before


class TestTopicFilters:
    def test_bare_values_are_heard_with_their_neighbours(self):
        found = addresses("plant/m1", "scalar", {"a": "mode", "pipes/b": "suction_pipe"})
        filters = topic_filters((topic, "scalar") for topic, _ in found)
        assert filters == ("plant/m1/+", "plant/m1/pipes/+")

    def test_other_topics_are_exact(self):
        assert topic_filters([("plant/m1", "senml"), ("plant/m2", "json")]) == ("plant/m1", "plant/m2")
        assert topic_filters([("m1", "senml")]) == ("m1",)

    def test_no_message_comes_by_two_filters(self):
        topics = [("plant/m1/a", "scalar"), ("plant/m1/all", "json"), ("plant/m1", "senml"), ("m1", "json")]
        assert topic_filters(topics) == ("m1", "plant/m1", "plant/m1/+")


class TestMoved:
    def test_nothing_is_moved_by_what_stays(self):
        now = mapping(T1="suction_pipe", T2="compressor_inlet")
        assert moved({}, now, IDS) == {}
        assert moved({1: now, 2: mapping(T1="suction_pipe"), 3: mapping()}, now, IDS) == {}

    def test_two_points_that_were_swapped(self):
        old = mapping(T1="suction_pipe", T2="compressor_inlet")
        now = mapping(T1="compressor_inlet", T2="suction_pipe")
        assert moved({1: old, 2: now}, now, IDS) == {1: {1: 2, 2: 1}}
        assert moved({1: old, 2: now}, old, IDS) == {2: {1: 2, 2: 1}}

    def test_a_point_that_became_another_module_s(self):
        now = mapping(T1=(M2, "suction_pipe"))
        assert moved({1: mapping(T1="suction_pipe")}, now, IDS) == {1: {1: 4}}

    def test_a_renamed_point_keeps_its_signal(self):
        now = mapping(pipe="suction_pipe", inlet="compressor_inlet")
        assert moved({1: mapping(T1="suction_pipe", T2="compressor_inlet")}, now, IDS) == {}

    def test_a_signal_has_one_source_at_a_time(self):
        """T1 counts as the compressor's inlet now, and what T2 said for it counts no more."""
        old = mapping(T1="suction_pipe", T2="compressor_inlet")
        assert moved({1: old}, mapping(T1="compressor_inlet"), IDS) == {1: {1: 2, 2: None}}

    def test_a_signal_that_the_store_does_not_know_yet_is_nobody_s(self):
        old, now = mapping(T1="suction_pipe"), mapping(T1="outdoor_air")
        assert moved({1: old}, now, IDS) == {1: {1: None}}
        assert moved({1: now}, old, IDS) == {}

    def test_a_signal_that_left_and_came_back_elsewhere(self):
        old, between = mapping(T1="suction_pipe", T3="liquid_line"), mapping(T1="liquid_line")
        now = mapping(T1="liquid_line", T3="suction_pipe")
        assert moved({1: old, 2: between}, now, IDS) == {1: {1: 3, 3: 1}}


def test_what_earlier_mappings_subscribed_to_is_ended():
    def of(topic, kind):
        found = dict.fromkeys(addresses(topic, kind, {"a": "a"}))
        return write_mapping({address: Mapped(M1, "a", None, None, Payload(kind)) for address in found})

    older = [of("plant/one", "senml"), of("plant/two", "json"), of("plant/three", "scalar")]
    assert ended_filters(older, ["plant/one"]) == ("plant/three/+", "plant/two")
    assert ended_filters([], ["plant/one"]) == ()

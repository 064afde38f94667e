"""From messages to what is shown of a listening, without a broker: states of signals, unmapped records.

And an hour of the invented site, in which nothing is wrong with the mapping.
"""

from itertools import takewhile

import orjson
import pytest

from agent.intake import Message
from agent.outlets.terminal.heard import Heard
from agent.service.listen.ear import Ear
from agent.service.listen.hearing import Sample, Session
from agent.settings import load
from demo_feed.play import play
from tests.service.site import ROOT, START_US, configuration, write

SECOND_US = 1_000_000
TOPIC = "plant/hill-house/one/m1"
KEY = "hill-house/one/m1"
NAMES = (
    "mode",
    "suction_pipe",
    "compressor_inlet",
    "suction_pressure",
    "compressor_1_speed",
    "compressor_2_speed",
    "bypass_valve",
)


class Site:
    """An ear, with messages put in by hand and a stated now."""

    def __init__(self, plan):
        self.ear = Ear(plan)
        self.stored = {}

    def hear(self, topic, payload, at_us=START_US, retain=False):
        payload = payload if isinstance(payload, bytes) else orjson.dumps(payload)
        self.ear.hear(Message(1, 1, 1, topic, payload, retain, at_us))

    def site(self, listened_s=600, now_us=START_US + 5 * SECOND_US, from_store_us=None):
        began_us, messages = now_us - listened_s * SECOND_US, self.ear.messages
        session = Session("127.0.0.1:1883", began_us, now_us, messages, ("plant/#",), from_store_us, ())
        return self.ear.site(session, self.stored)

    def signal(self, name, **session):
        return next(each for each in self.site(**session).signals if each.name == name)


@pytest.fixture
def ear(tmp_path):
    return Site(load(write(tmp_path, configuration())))


def record(name, value=11.5, at_us=START_US, **more):
    return {"n": name, "t": at_us / SECOND_US, "v": value} | more


class TestStates:
    def test_arriving(self, ear):
        for second in (0, 30, 60):
            at_us = START_US + second * SECOND_US
            ear.hear(TOPIC, [record("suction_pipe", 11.5 + second / 300, at_us, u="Cel")], at_us)
        found = ear.signal("suction_pipe", now_us=START_US + 65 * SECOND_US)
        assert (found.state, found.count, found.raw, found.unit) == (Heard.ARRIVING, 3, 11.7, "Cel")
        assert (found.age_us, found.period_us, found.every_us) == (5_000_000, 30_000_000, 30_000_000)
        assert (found.step_seen, found.step, found.accuracy) == (pytest.approx(0.1), 0.1, 0.5)

    def test_a_pressure_is_shown_absolute(self, tmp_path):
        signals = {
            **configuration()["signal_sets"]["polled"]["signals"],
            "suction_pressure": {"unit": "kPa", "reference": "gauge-sealed", "accuracy": 10, "step": 1},
        }
        sets = {"polled": {"every_s": 30, "max_age_s": 120, "signals": signals}}
        ear = Site(load(write(tmp_path, configuration(signal_sets=sets))))
        ear.hear(TOPIC, [record("suction_pressure", 843)])
        found = ear.signal("suction_pressure")
        assert (found.raw, found.unit) == (843, "kPa gauge")
        assert found.value == pytest.approx(944_325)

    def test_a_state_is_shown_in_the_words_of_the_configuration(self, ear):
        ear.hear(TOPIC, [record("mode", 1), record("bypass_valve", 0)])
        assert ear.signal("mode").meaning == "cooling" and ear.signal("bypass_valve").meaning == "shut"

    def test_silent_and_not_due_yet(self, ear):
        assert ear.signal("suction_pipe", listened_s=600).state is Heard.SILENT
        early = ear.signal("suction_pipe", listened_s=59)
        assert early.state is Heard.NOT_DUE and "after 60 s" in early.detail

    def test_a_signal_sent_on_change_may_be_silent_for_long(self, tmp_path):
        sets = configuration()["signal_sets"]
        sets = {"polled": sets["polled"] | {"on_change": True, "max_age_s": 900}}
        ear = Site(load(write(tmp_path, configuration(signal_sets=sets))))
        assert ear.signal("suction_pipe", listened_s=899).state is Heard.NOT_DUE
        assert ear.signal("suction_pipe", listened_s=901).state is Heard.SILENT

    def test_retained_of_unknown_age(self, ear):
        ear.hear(TOPIC, [{"n": "suction_pipe", "v": 11.5}], retain=True)
        found = ear.signal("suction_pipe")
        assert found.state is Heard.RETAINED and "nobody knows how old it is" in found.detail

    def test_retained_with_its_time(self, ear):
        ear.hear(TOPIC, [record("suction_pipe", at_us=START_US - 3600 * SECOND_US)], retain=True)
        found = ear.signal("suction_pipe")
        assert (found.state, found.age_us) == (Heard.RETAINED, 3605 * SECOND_US)

    def test_values_that_are_too_old(self, ear):
        ear.hear(TOPIC, [record("suction_pipe", at_us=START_US - 200 * SECOND_US)])
        found = ear.signal("suction_pipe")
        assert found.state is Heard.OLD and "max_age_s 120" in found.detail
        assert ear.site().modules[0].clock_behind_us == 200 * SECOND_US

    def test_refused(self, ear):
        ear.hear(TOPIC, [record("suction_pipe", u="kPa"), record("compressor_inlet")])
        found = ear.signal("suction_pipe")
        assert found.state is Heard.REFUSED
        assert found.detail.startswith("unit: the payload states the unit 'kPa'; right is one of degC")
        assert ear.signal("compressor_inlet").state is Heard.ARRIVING

    def test_a_whole_payload_that_cannot_be_read(self, ear):
        ear.hear(TOPIC, b"suction_pipe=11.5")
        for name in NAMES:
            found = ear.signal(name)
            assert (
                found.state is Heard.REFUSED
                and "its topic comes and cannot be read, not-senml" in found.detail
            )

    def test_a_bad_record_is_told_beside_those_that_are_read(self, ear):
        ear.hear(TOPIC, [record("suction_pipe"), record("compressor_inlet", "warm")])
        site = ear.site()
        assert ear.signal("suction_pipe").state is Heard.ARRIVING
        assert ear.signal("compressor_inlet").state is Heard.SILENT
        (said,) = site.modules[0].refused
        assert said.startswith('bad-record: record 1: "v" is "warm"')

    def test_what_the_agent_stored_counts_as_well(self, ear):
        ear.stored[KEY, "suction_pipe"] = [Sample(START_US - 20 * SECOND_US, 11.5, None, True)]
        found = ear.signal("suction_pipe", listened_s=10, from_store_us=3600 * SECOND_US)
        assert (found.state, found.count, found.raw) == (Heard.ARRIVING, 0, 11.5)

    def test_a_sample_that_came_twice_counts_once(self, ear):
        ear.hear(TOPIC, [record("suction_pipe")])
        ear.stored[KEY, "suction_pipe"] = [Sample(START_US, 11.5, None, True)]
        assert ear.signal("suction_pipe").period_us is None


class TestUnmapped:
    def test_value_unit_and_what_it_may_be(self, ear):
        ear.hear(TOPIC, [record("SuctionPipe", 11.4, u="Cel")])
        ear.hear(TOPIC, [record("SuctionPipe", 11.5, u="Cel"), record("Door", 1)])
        door, pipe = ear.site().unmapped
        assert (pipe.topic, pipe.name, pipe.count, pipe.value, pipe.unit) == (
            TOPIC,
            "SuctionPipe",
            2,
            11.5,
            "Cel",
        )
        assert pipe.likely == "suction_pipe of one/m1, which is mapped and silent"
        assert (door.name, door.likely) == ("Door", None)

    def test_nothing_is_suggested_that_arrives_already(self, ear):
        ear.hear(TOPIC, [record("SuctionPipe"), record("suction_pipe")])
        assert ear.site().unmapped[0].likely is None

    @pytest.mark.parametrize(
        ("payload", "reason"), [(b"12.5", "not-senml"), (b'{"a":1}', "not-senml"), (b"\xff\xfe", "not-senml")]
    )
    def test_a_payload_that_cannot_be_read(self, ear, payload, reason):
        ear.hear("plant/meter", payload)
        (found,) = ear.site().unmapped
        assert (found.topic, found.name, found.reason, found.count) == ("plant/meter", "", reason, 1)
        assert found.value == payload.decode(errors="backslashreplace") and found.detail

    def test_a_record_that_cannot_be_used_says_why(self, ear):
        ear.hear("plant/meter", [{"n": "power", "vd": "aGk="}])
        (found,) = ear.site().unmapped
        assert (found.name, found.reason) == ("power", "data-value") and "bytes of data" in found.detail

    def test_a_topic_that_is_nearly_a_modules(self, ear):
        ear.hear("plant/hill-house/one/M1", [record("power")])
        assert ear.site().unmapped[0].likely == f"the topic is like {TOPIC}, which is mapped and silent"

    def test_a_module_that_is_not_configured(self, ear):
        ear.hear("plant/other/x/y", [record(name) for name in NAMES])
        (note,) = ear.site().notes
        assert note == "plant/other/x/y has 7 records named like signals: a module that is not configured?"

    def test_no_flood_fills_the_memory(self, ear):
        for start in range(0, 6000, 1000):
            ear.hear(f"plant/{start}", [record(f"r{i}") for i in range(1000)])
        site = ear.site()
        assert len(site.unmapped) == 300
        assert len(site.unmapped) + site.more_unmapped == 6000

    def test_no_value_of_a_mapped_signal_gets_lost_on_the_way(self, ear):
        ear.hear(TOPIC, [record(name) for name in (*NAMES, "Door")])
        assert ear.site().count(Heard.ARRIVING) == len(NAMES)
        assert [each.name for each in ear.site().unmapped] == ["Door"]


def hour_of_the_invented_site(hours_before_the_end):
    end_us = 1_764_057_600_000_000 + 7_300_000
    start_us = end_us - round(hours_before_the_end * 3600 * SECOND_US)
    until_us = start_us + 3600 * SECOND_US
    ear = Site(load(ROOT / "config" / "demo.yaml"))
    for played in takewhile(lambda each: each.time_us < until_us, play("quince", start_us, end_us)):
        for sample in played.samples:
            ear.hear(sample.topic, sample.payload, sample.time_us + 200_000)
    return ear.site(3600, until_us)


@pytest.mark.parametrize("hours", [1, 3, 6.5, 17])
def test_an_hour_of_the_invented_site_gives_no_suspicion(hours):
    """With its wet module, its stops, defrosts and oil recoveries: those are no trouble of the mapping."""
    site = hour_of_the_invented_site(hours)
    assert site.suspicions == [] and site.unmapped == () and site.is_fine
    assert site.count(Heard.ARRIVING) == len(list(site.signals)) > 50

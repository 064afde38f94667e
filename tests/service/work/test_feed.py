"""Whether readings come as they should: each way of going stale is told apart."""

from dataclasses import replace

import pytest

from agent.assess import SECOND, Cause
from agent.service.work.feed import Feed
from tests.service.site import SIGNALS, configuration, plan

NOW = 1_800_000_000 * SECOND
MINUTE = 60 * SECOND


@pytest.fixture
def feed(tmp_path):
    (module,) = plan(tmp_path).modules
    return Feed(module, heard_us=NOW)


class Latest:
    """As much of an assessment as a feed looks at."""

    def __init__(self, mode="cooling", cause=""):
        self.mode = mode
        said = type("Said", (), {"cause": cause, "text": "the gateway repeats old values"})
        self.quantities = {"return_superheat": type("Quantity", (), {"said": said})}


def hear_all(feed, at_us, but=(), step=0.1):
    for number, name in enumerate(feed.plan.module.signals):
        if name not in but:
            feed.hear(at_us, name, at_us, 10.0 + step * ((at_us // MINUTE + number) % 3))


def judge(feed, minutes, unconnected_us=None, latest=None):
    return feed.judge(NOW + minutes * MINUTE, unconnected_us, latest)


def stale(feed, minutes, **more):
    """Judged over so many minutes; the transitions told."""
    lines = [judge(feed, minute, **more) for minute in range(minutes + 1)]
    return [line.transition for line in lines if line is not None]


def test_fresh(feed):
    for minute in range(120):
        hear_all(feed, NOW + minute * MINUTE)
        assert judge(feed, minute, latest=Latest()) is None
    assert not feed.raised


def test_no_broker(feed):
    assert stale(feed, 5, unconnected_us=NOW) == ["raised"]
    assert (feed.cause, feed.text) == ("broker", "no connection to the broker for 5 min")


def test_a_silent_gateway_and_its_return(feed):
    hear_all(feed, NOW)
    assert stale(feed, 10) == ["raised"]
    assert feed.cause == "gateway"
    hear_all(feed, NOW + 10 * MINUTE)
    line = judge(feed, 10)
    assert line.transition == "cleared"
    assert not feed.raised


def test_what_is_shared_goes_on_while_the_module_itself_is_silent(tmp_path):
    sets = {
        "own": {name: signal for name, signal in SIGNALS.items() if name != "mode"},
        "common": {"mode": SIGNALS["mode"]},
    }
    module = {"layout": "two-pipe-twin-late", "signal_set": "own"}
    system = {"refrigerant": "R-410A", "shared": {"signal_set": "common"}, "modules": {"m1": module}}
    ages = {"own": 120, "common": 3600}  # what is shared may be older, and delays nothing
    signal_sets = {
        name: {"every_s": 30, "max_age_s": ages[name], "signals": signals} for name, signals in sets.items()
    }
    (alone,) = plan(tmp_path, signal_sets=signal_sets, systems={"one": system}).modules
    feed = Feed(alone, heard_us=NOW)
    hear_all(feed, NOW)
    for minute in range(6):
        feed.hear(NOW + minute * MINUTE, "mode", NOW + minute * MINUTE, 1)
        judge(feed, minute)
    assert feed.raised
    assert (feed.cause, feed.text) == (
        "gateway",
        "the gateway has sent nothing of the module's own for 5 min",
    )


def test_old_readings_only(feed):
    for minute in range(6):
        for name in feed.plan.module.signals:
            feed.hear(NOW + minute * MINUTE, name, NOW - 300 * MINUTE, 1.0)
        judge(feed, minute)
    assert (feed.cause, feed.text) == ("gateway", "what comes is old: the newest reading by 5 h 5 min")


def test_one_silent_signal(feed):
    hear_all(feed, NOW)
    for minute in range(1, 15):
        hear_all(feed, NOW + minute * MINUTE, but=("suction_pipe",))
        judge(feed, minute)
    assert (feed.cause, feed.text) == ("signal", "1 signal is silent while others come: suction_pipe")


@pytest.mark.parametrize(("mode", "cause"), [("cooling", "frozen"), ("off", None)])
def test_one_frozen_signal_while_it_runs(feed, mode, cause):
    for minute in range(75):
        hear_all(feed, NOW + minute * MINUTE, but=("suction_pipe",))
        feed.hear(NOW + minute * MINUTE, "suction_pipe", NOW + minute * MINUTE, 12.3)
        judge(feed, minute, latest=Latest(mode))
    assert feed.cause == cause


def test_repeated_values_are_what_the_assessment_says(feed):
    hear_all(feed, NOW)
    judge(feed, 0, latest=Latest(cause=Cause.REPEATED))
    assert feed.cause == "repeated"


def test_a_passing_lapse_is_not_raised(feed):
    hear_all(feed, NOW)
    longest = max(signal.max_age_us for signal in feed.plan.module.signals.values())
    assert feed.judge(NOW + longest + SECOND, None, None) is None
    assert feed.since_us is not None
    hear_all(feed, NOW + longest + 2 * SECOND)
    assert feed.judge(NOW + longest + 3 * SECOND, None, None) is None
    assert feed.since_us is None


def test_what_could_not_be_written_down_is_told_again(feed):
    hear_all(feed, NOW)
    judge(feed, 9)
    before = replace(feed)
    assert judge(feed, 11).transition == "raised"
    feed.take_back(before)
    assert judge(feed, 12).transition == "raised"


class TestSentinels:
    """A value that says that there is none: heard, and nothing that could stand still."""

    @pytest.fixture
    def feed(self, tmp_path):
        polled = configuration()["signal_sets"]["polled"] | {"sentinels": [-999]}
        (module,) = plan(tmp_path, signal_sets={"polled": polled}).modules
        return Feed(module, heard_us=NOW)

    def hear_without_pipe(self, feed, at_us, value):
        hear_all(feed, at_us, but=["suction_pipe"])
        feed.hear(at_us, "suction_pipe", at_us, value)

    @pytest.mark.parametrize("value", [-999, "-999.0 degC"])
    def test_it_is_heard_and_never_frozen(self, feed, value):
        for minute in range(120):
            self.hear_without_pipe(feed, NOW + minute * MINUTE, value)
            assert judge(feed, minute, latest=Latest()) is None
        assert feed.cause is None

    def test_another_value_that_stands_still_is_frozen(self, feed):
        for minute in range(120):
            self.hear_without_pipe(feed, NOW + minute * MINUTE, -998)
            judge(feed, minute, latest=Latest())
        assert feed.cause == "frozen"

    def test_the_wait_for_a_moving_value_begins_anew_after_it(self, feed):
        for minute in range(150):
            value = -999 if minute == 50 else 12.0
            self.hear_without_pipe(feed, NOW + minute * MINUTE, value)
            judge(feed, minute, latest=Latest())
            assert (feed.cause == "frozen") == (minute > 51 + 60)


def hear_backlog(feed, at_us, sample_us):
    for name in feed.plan.module.signals:
        feed.hear(at_us, name, sample_us, 10.0 + sample_us // MINUTE % 3 / 10)


def test_a_backlog_on_its_way_is_not_stale(feed):
    """A gateway that was cut off sends what it kept: 20 h within 20 min."""
    for minute in range(20):
        hear_backlog(feed, NOW + minute * MINUTE, NOW - (20 - minute) * 60 * MINUTE)
        assert judge(feed, minute) is None
    assert not feed.raised


def test_a_backlog_that_stops_half_way_is_stale(feed):
    for minute in range(3):
        hear_backlog(feed, NOW + minute * MINUTE, NOW - (20 - minute) * 60 * MINUTE)
        assert judge(feed, minute) is None
    found = []
    for minute in range(3, 7):  # the same old time, again and again
        hear_backlog(feed, NOW + minute * MINUTE, NOW - 18 * 60 * MINUTE)
        found.append(judge(feed, minute))
    assert [line.transition for line in found if line] == ["raised"]
    assert feed.text.startswith("what comes is old: the newest reading by 18 h 6 min")


def test_old_readings_under_a_clock_that_runs_right_are_stale(feed):
    """A gateway whose clock is ten hours behind sends what it has now, and nothing catches up."""
    found = []
    for minute in range(6):
        hear_backlog(feed, NOW + minute * MINUTE, NOW + (minute - 600) * MINUTE)
        found.append(judge(feed, minute))
    assert [line.transition for line in found if line] == ["raised"]


def test_a_silent_signal_that_was_known_when_the_agent_started_stays_raised(tmp_path):
    (module,) = plan(tmp_path).modules
    feed = Feed(module, heard_us=NOW, since_us=NOW - 60 * MINUTE, raised=True)
    hear_all(feed, NOW - 60 * MINUTE)
    found = []
    for second in range(0, 180, 2):
        hear_all(feed, NOW + second * SECOND, but=("compressor_inlet",))
        found.append(feed.judge(NOW + second * SECOND, None, None))
    assert not any(found) and feed.raised and feed.about == {"compressor_inlet"}

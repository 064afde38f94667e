"""An agent that is killed while it sums up and removes old readings, and takes in new ones beside."""

import json
import signal
import time
from collections import defaultdict
from contextlib import ExitStack
from statistics import fmean

import pytest

from agent.readings import Reading
from agent.service import now_us
from agent.settings import load
from agent.store import Store
from tests.mosquitto import MARKS, Mosquitto, free_port
from tests.service.processes import agent_on, eventually, listener, process
from tests.service.site import configuration, write
from tests.service.test_kill import Kept, publisher

pytestmark = MARKS

DAY_US, HOUR_US, QUARTER_US = 86_400_000_000, 3_600_000_000, 900_000_000
OLD = 80_000  # readings that are not to be kept
SIGNALS = ("suction_pipe", "compressor_inlet", "mode", "suction_pressure")
ONLINE = "dewline/agent/dewline"
KILLS_AT = (0.8, 0.5, 0.2)  # of them left


def filled(path):
    """Old readings, more of them than an agent removes in a moment, and one an hour since."""
    plan = load(path)
    now = now_us()
    begin_us = (now - 70 * DAY_US) // QUARTER_US * QUARTER_US
    with Store.open(plan.store_url) as store:
        owner = str(plan.modules[0].path)
        ids = store.register_signals((owner, name) for name in SIGNALS)
        old = [
            (begin_us + number * 15_000_000, name, 1 if name == "mode" else number % 97 / 4)
            for number in range(OLD // len(SIGNALS))
            for name in SIGNALS
        ]
        assert old[-1][0] < now - 63 * DAY_US
        since = [(at_us, "suction_pipe", 11.4) for at_us in range(now - 61 * DAY_US, now, HOUR_US)]
        for some in (old, since):
            store.add_batch([Reading(at, ids[owner, name], value, None, at, 1) for at, name, value in some])
    return old, len(since)


def expected(old):
    """What the quarters of an hour come to, by `statistics`."""
    of = defaultdict(list)
    for at_us, name, value in old:
        of[at_us // QUARTER_US * QUARTER_US, name].append(value)
    numbers = {
        (at_us, name): (len(values), min(values), pytest.approx(fmean(values)), max(values))
        for (at_us, name), values in of.items()
        if name != "mode"
    }
    return numbers, {key: len(values) for key, values in of.items() if key[1] == "mode"}


def test_three_kills_while_readings_are_removed_lose_and_double_none(tmp_path):
    with Mosquitto(tmp_path / "broker") as broker, ExitStack() as stack:
        body = configuration(
            store={"url": "sqlite:///store.db", "keep_readings_days": 62},
            broker={"telemetry": "plant", "port": broker.port},
            http={"port": free_port()},
        )
        config, log = write(tmp_path, body), tmp_path / "agent.log"
        old, others = filled(config)
        kept, sent = Kept(tmp_path / "store.db"), 0
        client = stack.enter_context(publisher(broker.port))
        heard = stack.enter_context(listener(broker.port, "dewline/#"))
        before_us = old[-1][0] + 1
        for share in (*KILLS_AT, None):
            agent = stack.enter_context(process(agent_on(config), log))
            if not sent:  # before that the broker keeps nothing for it
                eventually(lambda: heard.last.get(ONLINE) == b"online", "the agent to be online")

            def is_so_far(share=share):
                nonlocal sent
                pack = [{"bt": round(time.time(), 3), "n": "suction_pressure", "v": 900 + sent % 50}]
                client.publish("plant/hill-house/one/m1", json.dumps(pack), qos=1).wait_for_publish(10)
                sent += 1
                ((left,),) = kept.rows("SELECT count(*) FROM reading WHERE sample_us < ?", before_us)
                return left <= OLD * share if share else left == 0

            eventually(is_so_far, f"{share or 'nothing'} of the old readings to be left")
            if share:
                agent.kill()
                agent.wait(10)
                ((gone,),) = kept.rows(
                    "SELECT (SELECT total(number) FROM summary) + (SELECT total(number) FROM tally)"
                )
                ((left,),) = kept.rows("SELECT count(*) FROM reading WHERE sample_us < ?", before_us)
                assert (gone + left, left > 0) == (OLD, True)
        eventually(lambda: kept.count() == others + sent, "all that was sent meanwhile to be stored")
        agent.send_signal(signal.SIGTERM)
        assert agent.wait(30) == 0, log.read_text()
    numbers, words = expected(old)
    named = " JOIN signal ON signal.id = signal_id"
    found = kept.rows(f"SELECT from_us, name, number, least, mean, most FROM summary{named}")
    assert {(at_us, name): tuple(rest) for at_us, name, *rest in found} == numbers
    found = kept.rows(f"SELECT from_us, name, number FROM tally{named}")
    assert {(at_us, name): number for at_us, name, number in found} == words
    assert "old readings wait" not in log.read_text()

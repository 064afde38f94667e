"""What the broker keeps follows what late readings change, without waiting for the next grid time."""

import json
import signal

from paho.mqtt.publish import multiple

from agent.service import now_us
from tests.mosquitto import MARKS, Mosquitto, free_port
from tests.service.processes import agent_on, eventually, listener, process
from tests.service.site import MINUTE_US, SECOND_US, configuration, told, write

pytestmark = MARKS

STEPS_S = range(120, 181)
TOPIC = "plant/hill-house/one/m1"
ASSESSMENT = "dewline/hill-house/one/m1/assessment"


def packs(readings):
    """SenML, one pack for each sample time."""
    times = {}
    for sample_us, name, value in readings:
        times.setdefault(sample_us, []).append({"n": name, "v": value, "t": sample_us / SECOND_US})
    return [{"topic": TOPIC, "payload": json.dumps(pack), "qos": 1} for pack in times.values()]


def test_a_grid_time_that_is_assessed_again_is_published_again(tmp_path):
    now_s = now_us() // SECOND_US
    step_s = max(STEPS_S, key=lambda step_s: step_s - now_s % step_s)  # the next grid time is far off
    grid_us = now_s // step_s * step_s * SECOND_US
    start_us = grid_us - 60 * MINUTE_US
    with Mosquitto(tmp_path / "broker") as broker:
        body = configuration(
            broker={"telemetry": "plant", "port": broker.port},
            http={"port": free_port()},
            assess={"step_s": step_s, "grace_s": 0},
        )
        with (
            process(agent_on(write(tmp_path, body)), tmp_path / "log") as agent,
            listener(broker.port, "dewline/#") as heard,
        ):
            eventually(lambda: heard.last.get("dewline/agent/dewline") == b"online", "the agent online")
            multiple(packs(told(0, 50, start_us=start_us)), port=broker.port)
            eventually(lambda: mode(heard) == "unknown", "an assessment without readings of its time")
            multiple(packs(told(50, 60, start_us=start_us)), port=broker.port)
            eventually(lambda: mode(heard) == "cooling", "the assessment with its readings", patience_s=15)
            agent.send_signal(signal.SIGTERM)
            assert agent.wait(30) == 0


def mode(heard):
    return json.loads(heard.last.get(ASSESSMENT, b'{"mode": null}'))["mode"]

"""Plain JSON and bare values from a real broker to assessments, as two invented gateways send them."""

import json
import signal
from datetime import datetime, timedelta, timezone

import pytest
from paho.mqtt.publish import multiple

from agent.service import now_us
from agent.service.look.looking import received
from agent.settings import load
from agent.store import Store
from tests.mosquitto import MARKS, Mosquitto, free_port
from tests.service.processes import agent_on, eventually, listener, process
from tests.service.site import (
    DEW_C,
    HEALTHY_K,
    MINUTE_US,
    PRESSURE_KPA,
    SECOND_US,
    SIGNALS,
    configuration,
    told,
    write,
)

pytestmark = MARKS

JSON, BARE = "plant/hill-house/one/m1", "plant/hill-house/one/m2"
POINTERS = {
    "suction_pipe": "/pipes/0",
    "compressor_inlet": "/pipes/1",
    "suction_pressure": "/pressures/low~1gas",
    "compressor_1_speed": "/compressors/0/speed",
    "compressor_2_speed": "/compressors/1/speed",
    "bypass_valve": "/bypass",
}
CET = timezone(timedelta(hours=1))


def body(broker_port):
    objects, bare = ({name: dict(keys) for name, keys in SIGNALS.items()} for _ in range(2))
    for name, pointer in POINTERS.items():
        objects[name]["point"] = pointer
    bare["suction_pipe"]["point"] = "pipes/suction"
    bare["mode"]["values"] = {"cool": "cooling", "off": "off"}
    often = {"every_s": 30, "max_age_s": 120, "sentinels": [-999, "N/A"]}
    modules = {
        name: {"layout": "two-pipe-twin-late", "signal_set": of}
        for name, of in (("m1", "objects"), ("m2", "bare"))
    }
    return configuration(
        broker={"telemetry": "plant", "port": broker_port},
        http={"port": free_port()},
        assess={"step_s": 5, "grace_s": 0},
        signal_sets={
            "objects": {**often, "payload": "json", "time": "/at", "signals": objects},
            "bare": {**often, "payload": "scalar", "signals": bare},
        },
        systems={"one": {"refrigerant": "R-410A", "modules": modules}},
    )


def objects(readings):
    """One for each sample time; numbers as they are, and as text with unit or decimal comma."""
    samples = {}
    for sample_us, name, value in readings:
        samples.setdefault(sample_us, {})[name] = value
    for sample_us, of in samples.items():
        yield {
            "at": datetime.fromtimestamp(sample_us / SECOND_US, CET).isoformat(),
            "gateway": "roof",
            "mode": str(of["mode"]),
            "pipes": [f"{of['suction_pipe']} °C".replace(".", ","), of["compressor_inlet"], "N/A"],
            "pressures": {"low/gas": f"{of['suction_pressure']} kPa"},
            "compressors": [{"speed": of["compressor_1_speed"]}, {"speed": "N/A"}],
            "bypass": False,
        }


def message(topic, payload):
    return {"topic": topic, "payload": payload, "qos": 1}


BARE_VALUES = {
    "pipes/suction": (b"11.4 degC", "11.4 degC"),
    "mode": (b"cool", "cool"),
    "compressor_inlet": (b"-999", -999),
    "suction_pressure": (b"944", 944),
    "compressor_1_speed": (b"55,0 Hz", "55,0 Hz"),
    "compressor_2_speed": (b'"55"', "55"),
    "bypass_valve": (b"false", 0),
}
STRANGE = [
    message(f"{BARE}/fan", b"3"),
    message(f"{BARE}/pipes/gas", b"60"),
    message(f"{BARE}/mode", b"\xff"),
]


def quantity(heard, module, name):
    body = heard.last.get(f"dewline/hill-house/one/{module}/assessment")
    return json.loads(body)["quantities"][name] if body else {"value": None, "status": None}


def test_an_object_and_bare_values_become_assessments(tmp_path):
    start_us = now_us() // SECOND_US * SECOND_US - 60 * MINUTE_US
    sent = list(objects(told(0, 60, start_us=start_us)))
    packs = [json.dumps(sent[at : at + 10]) for at in range(0, 100, 10)] + [json.dumps(s) for s in sent[100:]]
    with Mosquitto(tmp_path / "broker") as broker:
        config = write(tmp_path, body(broker.port))
        with (
            process(agent_on(config), tmp_path / "log") as agent,
            listener(broker.port, "dewline/#") as heard,
        ):
            eventually(lambda: heard.last.get("dewline/agent/dewline") == b"online", "the agent online")
            multiple([message(JSON, pack) for pack in packs], port=broker.port)
            bare = [message(f"{BARE}/{name}", payload) for name, (payload, _) in BARE_VALUES.items()]
            multiple(bare + STRANGE, port=broker.port)
            eventually(
                lambda: (
                    quantity(heard, "m1", "return_superheat")["status"] == "decided"
                    and quantity(heard, "m2", "saturated_suction")["value"] is not None
                ),
                "both assessed",
            )
            superheat = quantity(heard, "m1", "return_superheat")
            suction = quantity(heard, "m2", "saturated_suction")
            agent.send_signal(signal.SIGTERM)
            assert agent.wait(30) == 0
    assert superheat["value"] == pytest.approx(HEALTHY_K, abs=0.2)
    assert superheat["probes"] == ["suction_pipe"]
    assert suction["value"] == pytest.approx(DEW_C, abs=0.02)

    plan = load(config)
    with Store.open_readonly(plan.store_url) as store:
        of_json, of_bare = (received(store, plan, module, 0, now_us()) for module in plan.modules)
        refused = store.refused_counts()
    assert len(of_json) == len(sent) * (len(POINTERS) + 1)
    values = {(name, unit): value for _, name, value, unit in of_json}
    assert values["suction_pressure", "kPa"] == f"{PRESSURE_KPA} kPa"
    assert values["suction_pipe", "degC"].endswith(" °C")
    assert min(time_us for time_us, *_ in of_json) == start_us + 600_000
    points = plan.modules[1].points
    assert {name: value for _, name, value, _ in of_bare} == {
        points[point]: value for point, (_, value) in BARE_VALUES.items()
    }
    assert refused == {"unmapped": 2, "not-utf8": 1}

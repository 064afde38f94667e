"""Two modules of a system that share mode and outdoor air, from the broker to what each is assessed as."""

import json
import signal
import sqlite3
import urllib.request
from contextlib import closing

from paho.mqtt.publish import multiple

from agent.service import find, look, now_us, received
from agent.settings import load
from agent.store import Store
from tests.mosquitto import MARKS, Mosquitto, free_port
from tests.service.processes import agent_on, eventually, listener, process
from tests.service.site import MINUTE_US, SECOND_US, SIGNALS, configuration, told, write

pytestmark = MARKS

AIR = {"unit": "degC", "accuracy": 0.5, "step": 0.1}
SHARED = {"mode": SIGNALS["mode"], "outdoor_air": AIR}
MINUTES = 60
SYSTEM_TOPIC = "plant/hill-house/one"


def site(**more):
    """m1 and m2 have mode and outdoor air from their system; m3 is polled for a mode of its own."""
    own = {name: of for name, of in SIGNALS.items() if name != "mode"}
    sets = {"own": own, "whole": SIGNALS, "common": SHARED}
    module = {"layout": "two-pipe-twin-late", "signal_set": "own"}
    modules = {"m[1,2]": module, "m3": module | {"signal_set": "whole"}}
    system = {"refrigerant": "R-410A", "shared": {"signal_set": "common"}, "modules": modules}
    return configuration(
        signal_sets={
            name: {"every_s": 30, "max_age_s": 120, "signals": signals} for name, signals in sets.items()
        },
        systems={"one": system},
        assess={"step_s": 30, "grace_s": 5},
        **more,
    )


def packs(topic, readings):
    times = {}
    for sample_us, name, value in readings:
        times.setdefault(sample_us, []).append({"n": name, "v": value, "t": sample_us / SECOND_US})
    return [{"topic": topic, "payload": json.dumps(pack), "qos": 1} for pack in times.values()]


def day(start_us):
    """An hour of steady cooling: what each topic brings."""
    whole = [*told(0, MINUTES, start_us=start_us)]
    own = [each for each in whole if each[1] != "mode"]
    common = [each for each in whole if each[1] == "mode"]
    common += [(sample_us, "outdoor_air", 31.5) for sample_us, _, _ in common]
    return {
        **{f"{SYSTEM_TOPIC}/{name}": own for name in ("m1", "m2")},
        f"{SYSTEM_TOPIC}/m3": whole,
        SYSTEM_TOPIC: common,
    }


def rows(path, statement):
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=30)) as connection:
        return connection.execute(statement).fetchall()


def test_shared_readings_late_ones_too_belong_to_every_module_below(tmp_path):
    start_us = (now_us() - MINUTES * MINUTE_US) // (30 * SECOND_US) * 30 * SECOND_US
    of_topic = day(start_us)
    store, metrics_port = tmp_path / "store.db", free_port()
    cools = (
        "SELECT module.name, count(*) FROM assessment JOIN module ON module.id = module_id"
        " JOIN basis ON basis.id = basis_id"
        " WHERE json_extract(body, '$.mode') = 'cooling' GROUP BY module.name"
    )
    known = "SELECT DISTINCT name FROM assessment JOIN module ON module.id = module_id ORDER BY name"
    with Mosquitto(tmp_path / "broker") as broker:
        config = write(
            tmp_path, site(broker={"telemetry": "plant", "port": broker.port}, http={"port": metrics_port})
        )
        with (
            process(agent_on(config), tmp_path / "log") as agent,
            listener(broker.port, "dewline/#") as heard,
        ):
            eventually(lambda: heard.last.get("dewline/agent/dewline") == b"online", "the agent online")
            for topic in (f"{SYSTEM_TOPIC}/{name}" for name in ("m1", "m2", "m3")):
                multiple(packs(topic, of_topic[topic]), port=broker.port)
            eventually(lambda: len(rows(store, known)) == 3, "all modules assessed")
            eventually(lambda: dict(rows(store, cools)).get("m3", 0) > 100, "m3 assessed with its own mode")
            assert dict(rows(store, cools)).keys() == {"m3"}  # of the others nobody knows the mode yet
            multiple(packs(SYSTEM_TOPIC, of_topic[SYSTEM_TOPIC]), port=broker.port)
            eventually(
                lambda: (
                    {name: count > 100 for name, count in rows(store, cools)}
                    == dict.fromkeys(("m1", "m2", "m3"), True)
                ),
                "the late shared readings to reach both modules",
            )
            with urllib.request.urlopen(f"http://127.0.0.1:{metrics_port}/metrics", timeout=10) as answer:
                scraped = answer.read().decode()
            agent.send_signal(signal.SIGTERM)
            assert agent.wait(30) == 0, (tmp_path / "log").read_text()

    owners = dict(rows(store, "SELECT owner || ' ' || name, id FROM signal"))
    assert "hill-house/one mode" in owners and "hill-house/one/m3 mode" in owners
    assert "hill-house/one/m1 mode" not in owners
    shared = len(of_topic[SYSTEM_TOPIC])
    kept = "SELECT count(*) FROM reading JOIN signal ON signal.id = signal_id WHERE owner = 'hill-house/one'"
    assert rows(store, kept) == [(shared,)]
    assert rows(store, "SELECT count(*) FROM refused") == [(0,)]
    counted = {
        line.partition("{")[2].partition("}")[0]: float(line.split()[-1])
        for line in scraped.splitlines()
        if line.startswith("dewline_readings_total")
    }
    assert counted['module="",site="hill-house",system="one"'] == shared
    assert sum(counted.values()) == sum(map(len, of_topic.values()))

    plan = load(config)
    with Store.open_readonly(plan.store_url) as kept_store:
        views = look(kept_store, plan, now_us())
        assert [view.assessment.mode for view in views] == ["cooling"] * 3
        mine = received(kept_store, plan, find(plan, "m2"), start_us, now_us())
    assert sum(name == "outdoor_air" for _, name, _, _ in mine) == shared // 2

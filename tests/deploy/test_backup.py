"""A backup while a real agent takes in what a real broker sends, and the agent on the restored copy."""

import json
import os
import pty
import shutil
import signal
import subprocess
import threading
import time

from agent.store import Store
from tests.cli.test_cli import dewline
from tests.mosquitto import Mosquitto, free_port, needs_mosquitto
from tests.service.processes import DEWLINE, agent_on, eventually, process
from tests.service.site import configuration, demo_configuration, write
from tests.service.test_kill import PACE_S, Kept, publisher, readings_of, record
from tests.store.test_backing_up import batch


@needs_mosquitto
def test_what_was_copied_and_what_the_broker_still_holds_is_there_after_a_restore(tmp_path):
    """What came between the copy and the end is gone with the disk: the broker was told that it was kept."""
    messages = record(tmp_path / "messages.jsonl")
    first, lost, held = messages[:3000], messages[3000:3600], messages[3600:4400]
    with Mosquitto(tmp_path / "broker") as broker:
        config = write(tmp_path, demo_configuration(broker.port, free_port(), "restored", "watch/dewline"))
        store, copy = tmp_path / "restored.db", tmp_path / "copies" / "friday.db"
        copy.parent.mkdir()
        kept = Kept(store)
        with process(agent_on(config), tmp_path / "agent.log") as agent:
            eventually(lambda: "watching" in (tmp_path / "agent.log").read_text(), "the agent watches")
            with publisher(broker.port) as client:
                sending = threading.Thread(target=send, args=(client, first, PACE_S))
                sending.start()
                eventually(lambda: store.exists() and kept.count() > 2000, "readings are kept")
                done = dewline("backup", copy, "--json", "-c", config)
                assert done.exit_code == 0, done.stderr
                assert sending.is_alive(), "the copy was made while readings came in"
                sending.join()
                send(client, lost)
                eventually(lambda: kept.count() == len(readings_of(first + lost)), "all of it is kept")
            agent.send_signal(signal.SIGTERM)
            assert agent.wait(30) == 0
        copied = Kept(copy).readings()
        said = json.loads(done.stdout)
        assert said["path"] == str(copy)
        assert said["readings"] == len(copied)
        assert set(copied) < set(readings_of(first))

        with publisher(broker.port) as client:
            send(client, held)
        restore(copy, store)
        with process(agent_on(config), tmp_path / "agent.log") as agent:
            expected = {*copied, *readings_of(held)}
            eventually(lambda: kept.count() == len(expected), "what waited at the broker has come")
            until_us = max(sample_us for _, _, sample_us, _ in expected) - 600_000_000
            eventually(lambda: kept.is_done(len(expected), until_us), "and it is assessed")
            agent.send_signal(signal.SIGTERM)
            assert agent.wait(30) == 0
        assert set(kept.readings()) == expected
        assert " ERROR " not in (tmp_path / "agent.log").read_text()


def send(client, messages, pace_s=0.0):
    for topic, payload in messages:
        time.sleep(pace_s)
        client.publish(topic, payload, qos=1).wait_for_publish(60)


def restore(copy, store):
    """As the README says: the old store goes aside with all that belongs to it, the copy takes its place."""
    aside = store.parent / "aside"
    aside.mkdir()
    for path in store.parent.glob(f"{store.name}*"):
        shutil.move(path, aside)
    shutil.copy(copy, store)


def test_it_says_what_it_made_and_what_it_will_not_do(tmp_path):
    config = write(tmp_path, configuration())
    with Store.open(f"sqlite:///{tmp_path / 'store.db'}") as store:
        store.add_batch(batch(0, 1000))
    copy = tmp_path / "copy.db"
    done = dewline("backup", copy, "-c", config)
    assert done.exit_code == 0, done.stderr
    assert done.stdout.startswith(f"copied and checked: {copy}, ")
    assert ", 1,000 readings, schema " in done.stdout
    assert done.stderr == ""

    done = dewline("backup", copy, "-c", config)
    assert done.exit_code == 2
    assert "is there already: name another file, or say --force" in done.stderr
    assert dewline("backup", copy, "--force", "-c", config).exit_code == 0


def test_a_damaged_store_ends_it_with_1(tmp_path):
    config = write(tmp_path, configuration())
    with Store.open(f"sqlite:///{tmp_path / 'store.db'}") as store:
        store.add_batch(batch(0, 40_000))
    whole = (tmp_path / "store.db").read_bytes()
    (tmp_path / "store.db").write_bytes(whole[:200_704] + b"\xff" * 8192 + whole[208_896:])
    done = dewline("backup", tmp_path / "copy.db", "-c", config)
    assert done.exit_code == 1
    assert "is damaged" in done.stderr
    assert not (tmp_path / "copy.db").exists()


def test_on_a_terminal_there_is_a_bar(tmp_path):
    config = write(tmp_path, configuration())
    with Store.open(f"sqlite:///{tmp_path / 'store.db'}") as store:
        store.add_batch(batch(0, 300_000))
    ours, theirs = pty.openpty()
    done = subprocess.Popen(
        [*DEWLINE, "backup", str(tmp_path / "copy.db"), "-c", str(config)],
        stdout=subprocess.PIPE,
        stderr=theirs,
    )
    os.close(theirs)
    shown = b""
    try:
        while piece := os.read(ours, 4096):
            shown += piece
    except OSError:  # its end of the terminal is closed
        pass
    finally:
        os.close(ours)
    assert done.communicate()[0].startswith(b"copied and checked: ")
    assert done.returncode == 0
    assert b"copying" in shown

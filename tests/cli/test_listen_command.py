"""`dewline listen` as it is typed, on a real broker beside an agent: what is printed, and the exit code."""

import contextlib
import json
import os
import pty
import re
import signal
import socket
import subprocess
import sys
import time

import pytest
from click.testing import CliRunner

from agent.cli import main
from tests.mosquitto import MARKS, Mosquitto, free_port
from tests.service.processes import DEWLINE, PATIENCE_S, agent_on, eventually, listener, process
from tests.service.site import configuration, demo_configuration, write

pytestmark = MARKS

TOPIC = "plant/hill-house/one/m1"
HEALTHY = {
    "mode": 1,
    "suction_pipe": 11.4,
    "compressor_inlet": 13.9,
    "suction_pressure": 944,  # dew 5.38 degC of R-410A: CoolProp 8.0.0 and, independently, teqp 0.23.2
    "compressor_1_speed": 55,
    "compressor_2_speed": 55,
    "bypass_valve": 0,
}


def words(text):
    return " ".join(text.split())


def told_of(log):
    return log.read_text() if log.exists() else ""


class World:
    """A broker whose log says who connected, and a configuration of the small invented site."""

    def __init__(self, directory, broker, **changes):
        self.directory = directory
        self.broker = broker
        body = configuration(http={"port": free_port()}, **changes)  # an agent of its own too
        self.config = write(
            directory,
            {**body, "broker": {**body["broker"], "port": broker.port, **changes.get("broker", {})}},
        )
        self.sent = 0

    def listen(self, *options, say=None, span="10min", columns=80):
        """Runs the command; once it listens, publishes, and once all is heard, ends it with Ctrl-C."""
        command = [*DEWLINE, "listen", "-c", str(self.config), "--for", span, *options]
        env = {**os.environ, "COLUMNS": str(columns)}
        listening, heard = "Sending SUBACK to dewline-listen-", "Received PUBACK from dewline-listen-"
        before, sent = self.log().count(heard), self.sent
        subscribed = self.log().count(listening)
        started = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=env
        )
        try:
            if say:
                eventually(lambda: self.log().count(listening) > subscribed, "no subscription")
                say()
                expected = before + self.sent - sent
                eventually(lambda: self.log().count(heard) >= expected, "not everything was acknowledged")
                started.send_signal(signal.SIGINT)
            out, err = started.communicate(timeout=PATIENCE_S)
        finally:
            if started.poll() is None:
                started.kill()
                started.communicate()
        return started.returncode, out, err

    def log(self):
        return told_of(self.broker.directory / "mosquitto.log")

    def publish(self, values, *, topic=TOPIC, count=3, retain=False, qos="1"):
        """As a gateway would: records that are 30 s apart, the newest of now."""
        for i in range(count):
            at = time.time() - 30 * (count - 1 - i)
            payload = values
            if isinstance(values, dict):
                moved = {n: round(v + 0.1 * i, 1) if isinstance(v, float) else v for n, v in values.items()}
                payload = json.dumps(
                    [{"n": n, "t": at, "vs" if isinstance(v, str) else "v": v} for n, v in moved.items()]
                )
            more = ["-r"] if retain else []
            arguments = ["-p", str(self.broker.port), "-q", qos, "-t", topic, "-m", payload, *more]
            subprocess.run(["mosquitto_pub", *arguments], check=True, timeout=PATIENCE_S)
            self.sent += qos == "1"


@pytest.fixture
def world(tmp_path):
    with Mosquitto(tmp_path / "broker", "log_type all") as broker:
        yield World(tmp_path, broker)


class TestHealthy:
    def test_everything_mapped_arrives_and_nothing_looks_wrong(self, world):
        code, out, err = world.listen(say=lambda: world.publish(HEALTHY))
        assert (code, err) == (0, ""), out
        assert "7 of 7 mapped signals arrive, 0 unmapped, no suspicion" in words(out)
        assert words(out).endswith(
            "Next: everything mapped arrives and nothing looks wrong: dewline run, then dewline status"
        )

    def test_json_has_the_same(self, world):
        code, out, _ = world.listen("--json", say=lambda: world.publish(HEALTHY))
        found = json.loads(out)
        assert (code, found["fine"], found["messages"], found["unmapped"]) == (0, True, 3, [])
        pipe = found["modules"][0]["signals"]["suction_pipe"]
        assert (pipe["state"], pipe["value_celsius"], pipe["count"]) == ("arriving", 11.6, 3)
        assert pipe["period_seconds"] == pytest.approx(30, abs=2)


class TestFindings:
    def test_what_is_silent_what_is_unmapped_and_what_cannot_be_read(self, world):
        seldom = configuration()["signal_sets"]["polled"] | {"every_s": 300, "max_age_s": 600}
        world = World(world.directory, world.broker, signal_sets={"polled": seldom})

        def say():
            world.publish(
                {n: v for n, v in HEALTHY.items() if n != "suction_pipe"} | {"SuctionPipe": 11.4, "Door": 1}
            )
            world.publish("12.5", topic="plant/meter", count=1)
            world.publish("warm", topic="weather/roof", count=1)

        code, out, _ = world.listen("--topic", "weather/#", say=say)
        text = words(out)
        assert code == 1
        assert "not due yet suction_pipe: every 300 s" in text
        assert "SuctionPipe 11.6 3 x may be suction_pipe of one/m1, which is mapped and silent" in text
        assert "plant/meter (payload) 12.5 1 x cannot be read, not-senml: found 12.5" in text
        assert "weather/roof (payload) warm 1 x cannot be read, not-senml" in text
        assert "Next: listen for longer: 1 signal may still come (--for 10min)" in text

    def test_a_suspicion(self, world):
        swapped = HEALTHY | {"suction_pipe": 52.5}  # 11.4 degC in degF
        code, out, _ = world.listen(say=lambda: world.publish(swapped), columns=120)
        assert code == 1
        assert "SUSPECT suction_pipe seen suction_pipe reads 52." in words(out)
        assert "if suction_pipe came in degF (then 11." in words(out)
        assert "Isolate and lock out" in out

    def test_retained_is_not_arriving(self, world):
        world.publish(HEALTHY, count=1, retain=True)
        code, out, _ = world.listen(say=lambda: world.publish("the last one", topic="plant/end", count=1))
        assert code == 1
        assert "7 retained only" in words(
            out
        ) and "the broker kept it from before, and nothing new came" in words(out)

    def test_qos_0_is_told(self, world):
        def say():
            world.publish(HEALTHY, qos="0")
            world.publish("the last one", topic="plant/end", count=1)

        code, out, _ = world.listen(say=say)
        assert code == 0 and f"published at QoS 0: {TOPIC}" in words(out)

    def test_nothing_that_could_have_come(self, world):
        code, out, _ = world.listen(span="1s")
        assert code == 1
        assert "Next: too early to tell" in words(out) and "(--for 1min)" in words(out)
        assert "nothing came on" not in words(out) and "access rules" not in words(out)

    def test_nothing_at_all(self, world):
        often = configuration()["signal_sets"]["polled"] | {"every_s": 1, "max_age_s": 3}
        world = World(world.directory, world.broker, signal_sets={"polled": often})
        code, out, _ = world.listen(span="3s")
        assert code == 1
        assert "Next: nothing came on plant/#" in words(out) and "access rules" in words(out)


class TestBesideTheAgent:
    def test_the_agent_stores_every_reading_and_nothing_is_published(self, world):
        with process(agent_on(world.config), world.directory / "agent.log") as agent:
            eventually(lambda: "Sending SUBACK to dewline\n" in world.log(), "the agent subscribes")
            with listener(world.broker.port, "dewline/#") as heard:
                code, out, _ = world.listen(say=lambda: world.publish(HEALTHY))
                assert code == 0, out
                eventually(lambda: self.stored(world) >= 3, "the readings in the store")
                assert heard.last["dewline/agent/dewline"] == b"online"
                assert agent.poll() is None
            agent.send_signal(signal.SIGTERM)
            assert agent.wait(30) == 0
        assert "Received PUBLISH from dewline-listen-" not in world.log()
        assert not re.search(r"dewline-listen-\S+ .*(will|c0)", world.log())
        assert "already connected" not in world.log()

    @staticmethod
    def stored(world):
        done = CliRunner().invoke(
            main,
            ["history", "m1", "-c", str(world.config), "--since", "1h", "--readings", "--format", "json"],
        )
        return sum(row["signal"] == "suction_pipe" for row in json.loads(done.stdout or "[]"))

    def test_with_the_store_what_was_sent_before_counts(self, world):
        with process(agent_on(world.config), world.directory / "agent.log"):
            eventually(lambda: "Sending SUBACK to dewline\n" in world.log(), "the agent subscribes")
            world.publish(HEALTHY, count=4)
            eventually(lambda: self.stored(world) >= 4, "the readings in the store")
        code, out, _ = world.listen(span="1s")
        assert code == 1 and "0 of 7 mapped signals arrive" in words(out)
        code, out, _ = world.listen("--store", span="1s")
        assert code == 0, out
        assert "with the store's last 60 min: 0 messages, 7 of 7 mapped signals arrive" in words(out)

    def test_without_a_store_it_says_how_to_get_one(self, world):
        code, out, err = world.listen("--store", span="1s")
        assert (code, out) == (2, "") and "no store at" in err


class TestCannotListen:
    def test_nobody_there(self, tmp_path):
        port = free_port()
        config = write(tmp_path, configuration(broker={"telemetry": "plant", "port": port}))
        done = CliRunner().invoke(main, ["listen", "-c", str(config)])
        assert done.exit_code == 2 and done.stdout == ""
        assert (
            done.stderr
            == f"Error: the broker at 127.0.0.1:{port} cannot be listened at: Connection refused\n"
        )

    def test_a_host_that_has_no_address(self, tmp_path):
        config = write(tmp_path, configuration(broker={"telemetry": "plant", "host": "broker.invalid"}))
        done = CliRunner().invoke(main, ["listen", "-c", str(config)])
        assert done.exit_code == 2
        assert "the broker at broker.invalid:1883 cannot be listened at: " in done.stderr

    def test_a_wrong_password(self, tmp_path):
        passwords = tmp_path / "passwords"
        subprocess.run(["mosquitto_passwd", "-b", "-c", str(passwords), "dewline", "right"], check=True)
        lines = f"password_file {passwords}\nallow_anonymous false"
        with Mosquitto(tmp_path / "broker", lines) as broker:
            access = {
                "telemetry": "plant",
                "port": broker.port,
                "username": "dewline",
                "password_env": "SECRET",
            }
            config = str(write(tmp_path, configuration(broker=access)))
            wrong = CliRunner(env={"SECRET": "wrong"}).invoke(main, ["listen", "-c", config, "--for", "1s"])
            right = CliRunner(env={"SECRET": "right"}).invoke(main, ["listen", "-c", config, "--for", "1s"])
            none = CliRunner(env={"SECRET": ""}).invoke(main, ["listen", "-c", config])
        assert wrong.exit_code == 2
        assert (
            wrong.stderr
            == f"Error: the broker at 127.0.0.1:{broker.port} cannot be listened at: Not authorized\n"
        )
        assert right.exit_code == 1 and "0 messages" in right.stdout
        assert none.exit_code == 2 and "SECRET does not hold a password" in none.stderr

    @pytest.mark.parametrize(
        ("options", "said"),
        [
            (("--topic", "plant/#/x"), 'the topic filter "plant/#/x" is not one'),
            (("--for", "soon"), "'soon' is no length of time"),
        ],
    )
    def test_bad_options(self, tmp_path, options, said):
        config = write(tmp_path, configuration())
        done = CliRunner().invoke(main, ["listen", "-c", str(config), *options])
        assert done.exit_code == 2 and said in words(done.stderr)

    def test_a_certificate_that_is_not_there(self, tmp_path):
        config = write(tmp_path, configuration(broker={"telemetry": "plant", "ca_file": "/nowhere/ca.pem"}))
        done = CliRunner().invoke(main, ["listen", "-c", str(config)])
        assert done.exit_code == 2 and "No such file" in done.stderr


def on_a_terminal(arguments, until, end):
    """The command on a pseudo-terminal, sent a signal once a text appears: its code and what it showed."""
    leader, follower = pty.openpty()
    env = {**os.environ, "TERM": "xterm", "COLUMNS": "100", "LINES": "40"}
    started = subprocess.Popen(arguments, stdin=follower, stdout=follower, stderr=follower, env=env)
    os.close(follower)
    shown = b""
    try:
        while True:
            with contextlib.suppress(OSError):
                chunk = os.read(leader, 4096)
                shown += chunk
                if until in shown and started.poll() is None:
                    started.send_signal(end)
                    until = b"\0never"
                if chunk:
                    continue
            if started.poll() is not None:
                return started.wait(), shown.decode(errors="replace")
    finally:
        os.close(leader)
        if started.poll() is None:
            started.kill()
            started.wait()


@pytest.mark.parametrize("option", [[], ["--watch"]])
def test_on_a_terminal_it_shows_what_came_so_far_and_ctrl_c_ends_it_early(world, option):
    world.publish(HEALTHY, count=1, retain=True)
    until = b"7 retained only" if option else b"1 message"
    command = [*DEWLINE, "listen", "-c", str(world.config), "--for", "10min", *option]
    code, shown = on_a_terminal(command, until, signal.SIGINT)
    assert code == 1
    assert "Traceback" not in shown
    if not option:
        assert "left: 0 of 7 mapped signals" in shown or "left: 7 of 7 mapped signals" in shown
    assert "Next: " in shown


def test_ctrl_c_while_the_broker_does_not_answer(tmp_path):
    with socket.socket() as deaf:
        deaf.bind(("127.0.0.1", 0))
        deaf.listen()
        config = write(tmp_path, configuration(broker={"telemetry": "plant", "port": deaf.getsockname()[1]}))
        command = [*DEWLINE, "listen", "-c", str(config)]
        with process(command, tmp_path / "log") as started:
            caller, _ = deaf.accept()
            with caller:
                started.send_signal(signal.SIGINT)
                assert started.wait(PATIENCE_S) == 2
        assert "cannot be listened at" in (tmp_path / "log").read_text()


def test_the_invented_site_with_two_probes_swapped_and_a_module_that_nobody_mapped(tmp_path):
    """What is true of it is known: n1's probes are swapped in the mapping here, n2 is left out."""
    with Mosquitto(tmp_path / "broker", "log_type all") as broker:
        body = demo_configuration(broker.port, free_port(), "dewline", "watch/dewline")
        signals = body["signal_sets"]["polled-late"]["signals"]
        signals["suction_pipe"] = {**signals["suction_pipe"], "point": "discharge_1"}
        signals["discharge_1"] = {**signals["discharge_1"], "point": "suction_pipe"}
        del body["systems"]["north"]["modules"]["n2"]
        config = write(tmp_path, body)
        feed = [sys.executable, "-m", "demo_feed", "--port", str(broker.port), "--backlog", "5m"]
        command = [*DEWLINE, "listen", "-c", str(config), "--for", "10min", "--json"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as started:
            log = tmp_path / "broker" / "mosquitto.log"
            eventually(
                lambda: "Sending SUBACK to dewline-listen-" in told_of(log), "the listening subscribes"
            )
            with process(feed, tmp_path / "feed.log"):
                live = r"live: (\d+) messages of backlog acknowledged"
                eventually(lambda: re.search(live, told_of(tmp_path / "feed.log")), "the backlog is out")
                count = int(re.search(live, told_of(tmp_path / "feed.log"))[1])
                heard = "Received PUBACK from dewline-listen-"
                eventually(lambda: told_of(log).count(heard) >= count, "the backlog is heard")
                started.send_signal(signal.SIGINT)
                out, _ = started.communicate(timeout=PATIENCE_S)
    found = json.loads(out)
    assert started.returncode == 1 and not found["fine"]
    suspected = {(m["module"], tuple(s["signals"])) for m in found["modules"] for s in m["suspicions"]}
    assert suspected == {("n1", ("suction_pipe", "discharge_1"))}
    (suspicion,) = found["modules"][0]["suspicions"]
    assert suspicion["would"] == "it would be ordinary if suction_pipe and discharge_1 were swapped"
    unmapped = {each["topic"] for each in found["unmapped"]}
    assert unmapped == {"plant/quince-court/north/n2"}
    assert any("a module that is not configured?" in note for note in found["notes"])

"""The commands as a technician types them: what is printed, on which stream, and the exit code."""

import contextlib
import csv
import io
import json
import os
import pty
import re
import signal
import socket
import subprocess
import sys
import urllib.request

import pytest
from click.testing import CliRunner

from agent.cli import main
from agent.cli.shared import wrapped
from agent.service import now_us
from agent.settings import load
from agent.store import Store
from tests.certificates import Authority, encrypted
from tests.mosquitto import free_port
from tests.service.processes import DEWLINE, PATIENCE_S, eventually, process
from tests.service.site import GRACE_US, MINUTE_US, STEP_US, WET_K, World, configuration, told, write

LAST_MINUTES = 60


def site(directory, **changes):
    """A configuration with a module that is heard and one that never is."""
    module = {"layout": "two-pipe-twin-late", "signal_set": "polled"}
    systems = {
        "one": {"refrigerant": "R-410A", "modules": {"m1": module, "m2": module}},
        "two": {"refrigerant": "R-32", "modules": {"m2": module}},
    }
    return write(directory, configuration(**{"systems": systems, **changes}))


def fill(path, superheat_k):
    """The last hour of module m1 up to now, stored and assessed as the agent would."""
    plan = load(path)
    now = now_us()
    start_us = (now - LAST_MINUTES * MINUTE_US) // STEP_US * STEP_US
    with Store.open(plan.store_url) as store:
        world = World(plan, store, start_us)
        world.receive(told(0, LAST_MINUTES, lambda _: superheat_k, start_us=start_us))
        world.assessor.work_off(world.watched, now + GRACE_US)


@pytest.fixture(scope="module")
def healthy(tmp_path_factory):
    path = site(tmp_path_factory.mktemp("healthy"))
    fill(path, 6.0)
    return path


@pytest.fixture(scope="module")
def wet(tmp_path_factory):
    path = site(tmp_path_factory.mktemp("wet"))
    fill(path, WET_K)
    return path


def dewline(*arguments, **environment):
    return CliRunner(env=environment).invoke(main, [str(each) for each in arguments], catch_exceptions=False)


def in_a_process(*arguments):
    """For what takes over the signals of its process."""
    command = [*DEWLINE, *(str(each) for each in arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE_S, check=False)


def words(text):
    return " ".join(text.split())


def test_help_names_every_command_and_says_what_it_is_for():
    done = dewline("--help")
    assert done.exit_code == 0
    assert "vapour that returns to the compressors" in done.stdout
    for name in main.commands:
        assert f"\n  {name} " in done.stdout
        assert dewline(name, "--help").exit_code == 0
    assert re.fullmatch(r"\S+, version \d+\.\d+\.\d+\n", dewline("--version").stdout)


@pytest.mark.parametrize("arguments", [("status",), ("history", "m1"), ("status", "--watch")])
def test_without_a_store_the_sentence_says_how_to_get_one(tmp_path, arguments):
    done = in_a_process(*arguments, "-c", site(tmp_path))
    assert done.returncode == 2
    assert f"no store at {tmp_path / 'store.db'}" in done.stderr
    assert "dewline run -c FILE" in done.stderr
    assert not (tmp_path / "store.db").exists()


def test_a_bad_configuration_is_explained_with_every_problem_and_its_place(tmp_path):
    path = write(tmp_path, configuration(site="Hill House", broker={"telemetry": "plant", "port": 99999}))
    lines = path.read_text().splitlines()
    for command in (("status",), ("history", "m1"), ("run",)):
        done = dewline(*command, "-c", path)
        assert done.exit_code == 2 and done.stdout == ""
        for key, found in (("site", "Hill House"), ("port", "99999")):
            line = next(n for n, text in enumerate(lines, 1) if text.strip().startswith(f"{key}:"))
            column = lines[line - 1].index(":") + 3
            assert f"{path}:{line}:{column}: " in done.stderr
            assert found in done.stderr


def test_names_that_do_not_fit_together_are_all_reported_at_once(tmp_path):
    module = {"layout": "two-pipe-twin-lat", "signal_set": "pold"}
    path = site(tmp_path, systems={"one": {"refrigerant": "R-9999", "modules": {"m1": module}}})
    done = dewline("status", "-c", path)
    assert done.exit_code == 2
    for found in ("two-pipe-twin-lat", "pold", "R-9999"):
        assert found in done.stderr
    assert done.stderr.count(f"{path}:") == 3


def test_a_file_that_is_not_there(tmp_path):
    done = dewline("status", "-c", tmp_path / "nowhere.yaml")
    assert done.exit_code == 2 and "nowhere.yaml:1:1: no such file" in done.stderr


def test_the_configuration_may_come_from_the_environment(healthy):
    assert dewline("status", DEWLINE_CONFIG=str(healthy)).exit_code == 0
    assert "-c" in dewline("status").stderr


def test_status_of_a_healthy_site(healthy):
    done = dewline("status", "-c", healthy, COLUMNS="120")
    assert done.exit_code == 0
    found = words(done.stdout)
    assert "3 modules, no alarm" in found
    assert "one/m1 cooling" in found and "return superheat 6." in found
    assert "two/m2 nothing assessed yet" in found
    assert "ALARM" not in found


def test_status_with_an_alarm_ends_with_1(wet):
    done = dewline("status", "-c", wet, COLUMNS="80")
    assert done.exit_code == 1
    assert "ALARM superheat-low" in words(done.stdout) and "1 alarm" in done.stdout


@pytest.mark.parametrize(("of", "code"), [("healthy", 0), ("wet", 1)])
def test_status_as_json(request, of, code):
    done = dewline("status", "-c", request.getfixturevalue(of), "--json")
    assert done.exit_code == code
    first, second, third = json.loads(done.stdout)
    assert (first["site"], first["system"], first["module"]) == ("hill-house", "one", "m1")
    assert first["quantities"]["return_superheat"]["status"] == "decided"
    assert [alarm["alarm"] for alarm in first["alarms"]] == (["superheat-low"] if code else [])
    assert second["time"] is third["time"] is None


def test_history_as_a_table(wet):
    done = dewline("history", "m1", "-c", wet, "--since", "30m")
    assert done.exit_code == 0 and done.stderr == ""
    assert "suction_pipe" in done.stdout and "superheat-low" in done.stdout
    assert "0.4" in done.stdout or "0.5" in done.stdout


def test_history_as_csv_and_json_hold_the_same(wet):
    rows = list(csv.DictReader(io.StringIO(dewline("history", "m1", "-c", wet, "--format", "csv").stdout)))
    same = json.loads(dewline("history", "one/m1", "-c", wet, "--format", "json").stdout)
    assert len(rows) == len(same) >= 2 * (LAST_MINUTES - 1)
    for row, other in zip(rows, same, strict=True):
        assert row.keys() == other.keys()
        assert {k: "" if v is None else str(v) for k, v in other.items()} == row
    assert {row["status"] for row in rows} == {"not_settled", "decided"}
    assert rows[-1]["alarms"] == "superheat-low" and rows[0]["alarms"] == ""
    assert abs(float(rows[-1]["return_superheat_kelvin"]) - WET_K) < 0.2


@pytest.mark.parametrize("form", ["table", "csv", "json"])
def test_history_of_readings(healthy, form):
    done = dewline("history", "m1", "-c", healthy, "--readings", "--since", "30m", "--format", form)
    assert done.exit_code == 0
    assert "suction_pressure" in done.stdout and "944" in done.stdout and "kPa" in done.stdout
    if form == "json":
        signals = [row["signal"] for row in json.loads(done.stdout)]
        assert len(set(signals)) == 7 and len(signals) >= 7 * 2 * 28


def test_history_of_a_module_without_data_says_so_beside_the_output(healthy):
    done = dewline("history", "one/m2", "-c", healthy, "--format", "csv")
    assert done.exit_code == 0 and done.stdout == ""
    assert "nothing kept of hill-house/one/m2 since 20" in done.stderr
    done = dewline("history", "one/m2", "-c", healthy, "--format", "json")
    assert json.loads(done.stdout) == []


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("history", "m7"), "module 'm7' is not configured; there are hill-house/one/m1"),
        (("history", "m2"), "module 'm2' could be several; there are"),
        (("history", "m1", "--since", "nonsense"), "'nonsense' is no length of time; right would be 30m"),
        (("history", "m1", "--since", "-3h"), "'-3h' is no length of time"),
        (("history", "m1", "--format", "xml"), "'xml' is not one of 'table', 'csv', 'json'"),
        (("history",), "Missing argument 'MODULE'"),
        (("histroy", "m1"), "No such command 'histroy'"),
    ],
)
def test_wrong_arguments_are_explained(healthy, arguments, sentence):
    done = dewline(*arguments, *(() if arguments[0] == "histroy" else ("-c", healthy)))
    assert done.exit_code == 2 and done.stdout == ""
    assert sentence in words(done.stderr)


@pytest.mark.parametrize("since", ["200000w", "99999999w"])
def test_history_since_before_there_was_time(healthy, since):
    done = dewline("history", "one/m2", "-c", healthy, "--since", since)
    assert done.exit_code in (0, 2)
    assert done.stderr


def test_history_piped_to_a_reader_that_has_seen_enough(healthy):
    command = " ".join([*DEWLINE, "history", "m1", "-c", str(healthy), "--readings", "--format", "csv"])
    done = subprocess.run(
        f"set -o pipefail; {command} | head -1",
        shell=True,
        executable="/bin/bash",
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )
    assert done.stdout == "time,signal,value,unit\n"
    assert "Traceback" not in done.stderr


@contextlib.contextmanager
def on_a_terminal(*arguments):
    """A command under a pseudo-terminal, and what it has shown so far."""
    ours, theirs = pty.openpty()
    shown = bytearray()
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": "100", "LINES": "40"}
    started = subprocess.Popen(arguments, stdin=theirs, stdout=theirs, stderr=theirs, env=environment)
    os.close(theirs)
    os.set_blocking(ours, False)

    def read():
        with contextlib.suppress(OSError):  # nothing now, or the other end is closed
            shown.extend(os.read(ours, 65_536))
        return bytes(shown).decode(errors="replace")

    try:
        yield started, read
    finally:
        if started.poll() is None:
            started.kill()
        started.wait(10)
        os.close(ours)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_watching_ends_well_when_told_to(wet, number):
    with on_a_terminal(*DEWLINE, "status", "--watch", "-c", str(wet)) as (started, read):
        eventually(lambda: "superheat-low" in read(), "the status on the terminal")
        started.send_signal(number)
        eventually(lambda: read() and started.poll() is not None, "the command to end")
        assert started.returncode == 0
        assert "Traceback" not in read()
        assert "\x1b[?1049l" in read()  # the terminal is given back as it was


def test_run_ends_well_without_a_broker_and_leaves_a_store(tmp_path):
    path = site(
        tmp_path,
        broker={"telemetry": "plant", "port": free_port()},
        http={"port": (metrics_port := free_port())},
    )
    log = tmp_path / "agent.log"
    with process([*DEWLINE, "run", "-c", str(path)], log) as started:
        eventually(
            lambda: started.poll() is not None or is_at_work(metrics_port), "the agent to look for work"
        )
        started.send_signal(signal.SIGTERM)
        assert started.wait(30) == 0, log.read_text()
    assert "Traceback" not in log.read_text()
    done = dewline("status", "-c", path)
    assert done.exit_code == 1 and "nothing assessed yet" in done.stdout


@pytest.mark.parametrize("command", [("run",), ("status", "--watch")])
def test_told_to_end_while_it_falls_asleep(tmp_path, command):
    path = site(tmp_path, broker={"telemetry": "plant", "port": free_port()}, http={"port": free_port()})
    fill(path, 6.0)
    module = "tests.service.told_while_falling_asleep"
    with process([sys.executable, "-m", module, *command, "-c", str(path)], tmp_path / "log") as started:
        eventually(lambda: started.poll() is not None, "the command to end", patience_s=15)
        assert started.returncode == 0, (tmp_path / "log").read_text()


def test_run_with_the_metrics_port_taken_names_it(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        path = site(tmp_path, broker={"telemetry": "plant", "port": free_port()}, http={"port": port})
        done = in_a_process("run", "-c", path)
    assert done.returncode == 2
    assert f"127.0.0.1:{port}" in done.stderr and "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("url", "sentence"),
    [
        ("sqlite:////nowhere/at/all/store.db", "the directory must exist"),
        ("postgresql://somewhere/store", "sqlite:///PATH"),
        ("store.db", "sqlite:///PATH"),
    ],
)
def test_run_with_a_store_that_cannot_be_had(tmp_path, url, sentence):
    done = in_a_process("run", "-c", site(tmp_path, store={"url": url}))
    assert done.returncode == 2
    assert sentence in words(done.stderr)


def test_run_without_the_passphrase_of_its_key_says_so_and_does_not_ask(tmp_path):
    authority = Authority(tmp_path / "tls")
    certificate, key = authority.issue("agent")
    files = {"ca_file": authority.certificate, "cert_file": certificate, "key_file": encrypted(key)}
    broker = {"telemetry": "plant", "port": free_port(), **{name: str(file) for name, file in files.items()}}
    done = in_a_process("run", "-c", site(tmp_path, broker=broker))
    assert done.returncode == 2
    assert "agent.locked is encrypted; state key_password_env or key_password_file" in words(done.stderr)
    assert "Traceback" not in done.stderr


def test_a_file_that_is_no_store_is_left_alone(tmp_path):
    path = site(tmp_path)
    (tmp_path / "store.db").write_text("shopping list " * 100)
    for command in ("run", "status"):
        done = in_a_process(command, "-c", path)
        assert done.returncode == 2 and "it is no SQLite file" in done.stderr
    assert (tmp_path / "store.db").read_text().startswith("shopping list")


def is_at_work(metrics_port):
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{metrics_port}/metrics", timeout=10) as answer:
            counted = re.search(rb"^dewline_assess_duration_seconds_count (.*)$", answer.read(), re.M)
    except OSError:
        return False
    return float(counted[1]) > 0


def test_long_errors_are_broken_between_words_and_paths_stay_whole():
    path = "/a/path/that-is-longer/than-the-terminal.yaml:3:5:"
    found = wrapped(f"Error: {path} one word and another\nsecond line", 30)
    assert found == f"Error:\n{path}\none word and another\nsecond line"


@pytest.fixture
def thinned(tmp_path):
    """Of an hour the readings of the first quarters are summed up and removed."""
    path = site(tmp_path)
    fill(path, 6.0)
    plan = load(path)
    with Store.open(plan.store_url) as store:
        before_us = now_us() - 20 * MINUTE_US
        while store.thin(before_us, 100, lambda _, value, unit: (float(value), unit), {}):
            pass
        assert before_us - 15 * MINUTE_US < store.kept_from_us() <= before_us
    return path


def test_history_of_readings_says_since_when_they_are_kept(thinned):
    done = dewline("history", "m1", "-c", thinned, "--readings", "--since", "50m", "--format", "csv")
    assert (done.exit_code, len(done.stdout.splitlines()) > 100) == (0, True)
    assert re.search(
        r"^readings are kept since .*; --summaries tells what those before came to$", done.stderr
    )
    for others in (["--readings", "--since", "2m"], ["--since", "50m"], ["--summaries", "--since", "50m"]):
        assert dewline("history", "m1", "-c", thinned, *others).stderr == ""


@pytest.mark.parametrize("removed", [False, True])
def test_history_of_summaries(healthy, thinned, removed):
    asked = ("history", "m1", "-c", thinned if removed else healthy, "--summaries", "--since", "58m")
    rows = list(csv.DictReader(io.StringIO(dewline(*asked, "--format", "csv").stdout)))
    pipe = [row for row in rows if row["signal"] == "suction_pipe"]
    assert [pipe[1][name] for name in ("least", "mean", "most", "unit")] == ["11.3", "11.4", "11.5", "degC"]
    assert pipe[1]["readings"] == "30"
    assert len({row["time"] for row in rows}) == len(pipe) in (3, 4)
    assert json.loads(dewline(*asked, "--format", "json").stdout)[0]["unit"] in ("Hz", None)
    assert "kPa absolute" in dewline(*asked).stdout


def test_history_of_readings_or_of_summaries(healthy):
    done = dewline("history", "m1", "-c", healthy, "--summaries", "--readings")
    assert (done.exit_code, "two different things" in done.stderr) == (2, True)

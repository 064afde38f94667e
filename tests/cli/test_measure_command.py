"""Readings by hand as a person types them, beside a real agent and without one."""

import json
import re
import signal

import pytest

from agent.service import now_us
from agent.settings import load
from agent.store import Command, Store
from tests.cli.test_alarm_commands import KEPT, lonely
from tests.cli.test_cli import dewline, fill, words
from tests.service.processes import agent_on, eventually, process

BY = ("--by", "A. Fitter")
M = ("measure", "one/m1")
CLAMP = (*M, "--probe", "compressor_inlet", "--value", "14.4 degC", "--at", "10m")
# Of the last hour: suction_pipe about 11.4 degC, compressor_inlet 14.4, 944 kPa absolute.


@pytest.fixture(scope="module")
def healthy(tmp_path_factory):
    path = lonely(tmp_path_factory.mktemp("healthy"), elevation_m=500)
    fill(path, 6.0)
    return path


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((*M, *BY, "--value", "12 degC", "--at", "now"), "by one of --probe, --transducer and --inlet"),
        ((*CLAMP, *BY, "--inlet", "oil_return"), "by one of --probe, --transducer and --inlet"),
        ((*CLAMP, *BY, "--side", "after"), "leave out --side, or give --inlet instead of --probe"),
        (
            (*M, "--inlet", "oil_return", "--value", "12 degC", "--at", "now", *BY),
            "takes --side ahead or",
        ),
        ((*M, "--probe", "suction_pipe"), "a reading takes --value and --at and --by too"),
        (M, "by one of --probe, --transducer and --inlet, and --value and --at and --by too"),
        ((*M, "--inlet", "oil_return"), "(of the inlet) and --value and --at and --by too"),
        ((*M, "--withdraw", "1"), "--withdraw takes --by and --why too"),
        ((*CLAMP, *BY, "--withdraw", "1"), "--withdraw takes --by and --why, and nothing else"),
        ((*CLAMP[:-1], "03:20", *BY), "T03:20+00:00, now, or 20m (ago)"),
        ((*M, "--probe", "suction_pressure", *CLAMP[4:], *BY), "give it with --transducer suction_pressure"),
        (CLAMP, "a reading takes --by too"),
        ((*CLAMP, *BY, "--accuracy", "0"), "'--accuracy'"),
        ((*CLAMP, *BY, "--json"), "--json goes with --list"),
        ((*M, "--list", *BY), "--list shows what was measured, and takes nothing else but --json"),
        (
            (*CLAMP[:-1], "2026-11-20 14:05", *BY),
            "does not say of which place it is the time; right would be",
        ),
        ((*CLAMP[:-1], "2026-11-20", *BY), "does not say of which place it is the time"),
        ((*CLAMP[:-1], "2100-01-01T00:00Z", *BY), "is in the future"),
        ((*CLAMP[:-1], "noon", *BY), "'noon' is no time; right would be a time with its offset such as"),
        ((*M, "--probe", "suction_pip", *CLAMP[4:], *BY), "did you mean 'suction_pipe'?"),
        ((*M, "--probe", "suction_pipe", "--value", "12", *CLAMP[6:], *BY), "'12' states no unit"),
        ((*M, "--transducer", "suction_pressure", "--value", "8 bar", *CLAMP[6:], *BY), "counted from"),
        (("measure", "m9", *CLAMP[2:], *BY), "module 'm9' is not configured"),
    ],
)
def test_what_is_typed_wrong_is_said_with_what_would_be_right_and_nothing_is_kept(healthy, arguments, said):
    done = dewline(*arguments, "-c", healthy)
    assert done.exit_code == 2 and done.stdout == ""
    assert said in words(done.stderr)
    with Store.open_readonly(load(healthy).store_url) as store:
        assert store.waiting_commands() == [] == store.handhelds(1, 0, 2**62)


def test_a_list_with_nothing_in_it(healthy):
    done = dewline(*M, "--list", "-c", healthy)
    assert (done.exit_code, words(done.stdout)) == (0, "hill-house/one/m1 nothing measured by hand")
    body = json.loads(dewline(*M, "--list", "--json", "-c", healthy).stdout)
    assert body["readings"] == body["concluded"] == [] and body["module"] == "m1"


def test_times_as_they_are_typed(tmp_path):
    path = lonely(tmp_path)
    fill(path, 6.0)
    now = now_us()
    for at, expected_us in (
        ("now", now),
        ("20m", now - 1_200_000_000),
        ("2026-11-20T14:05+01:00", 1_795_179_900_000_000),
        ("2026-11-20T13:05Z", 1_795_179_900_000_000),
    ):
        assert dewline(*CLAMP[:-1], at, *BY, "-c", path).stdout == KEPT
        with Store.open_readonly(load(path).store_url) as store:
            given = json.loads(store.waiting_commands()[-1].body)["handheld"]["at_us"]
        assert given == expected_us or 0 <= given - expected_us < 60_000_000


def test_what_would_be_refused_is_said_though_no_agent_runs(tmp_path):
    path = lonely(tmp_path)
    fill(path, 6.0)
    with Store.open(load(path).store_url) as store:
        command = store.command(store.give(_given(store)))
        service = store.module_service(1)._replace(replaced_us=now_us())
        store.finish_command(command, now_us(), "Done.", service=service)
    done = dewline(*CLAMP, *BY, "-c", path)
    assert done.stdout.startswith(KEPT)
    assert (
        "As things stand it would be refused: Another unit stood there then: it was replaced at"
        in done.stdout
    )
    done = dewline("service", "one/m1", "replaced", *BY, "--why", "x", "--at", "1h", "-c", path)
    assert "As things stand it would be refused: It was replaced after that already, at" in done.stdout


def _given(store):
    return Command(now_us(), "A", "replaced", store.modules()[0].id, None, "{}")


def test_beside_a_running_agent(tmp_path):
    path = lonely(tmp_path, elevation_m=500)
    fill(path, 6.0)
    assert dewline(*CLAMP, *BY, "-c", path).stdout == KEPT  # worked off when it starts
    log = tmp_path / "agent.log"
    with process(agent_on(path), log) as agent:
        eventually(lambda: "watching" in log.read_text(), "the agent to start")
        eventually(lambda: _readings(path), "the reading that waited to be kept")
        done = dewline(
            *(*M, "--probe", "suction_pipe", "--value", "9 degC", "--at", "8m", *BY, "--note", "bare clamp"),
            *("-c", path),
        )
        assert done.exit_code == 1
        assert re.fullmatch(
            r"DIFFERS suction_pipe at hill-house/one/m1: 9\.0 degC by hand, 11\.\d degC by telemetry: 2\.\d "
            r"K more than by hand, beyond the ±0\.8 K that both instruments explain\. Clamp tight, "
            r"insulated, ten pipe diameters from a joint\? .* Kept as reading 2; "
            r"`dewline measure one/m1 --withdraw 2 --by NAME --why TEXT` "
            r"takes it back\.",
            words(done.stdout),
        )
        done = dewline(
            *(*M, "--transducer", "suction_pressure", "--value", "8.48 bar gauge", "--at", "8m", *BY),
            *("-c", path),
        )
        assert done.exit_code == 0 and done.stdout.startswith("AGREES\n")
        assert "8.48 bar gauge by hand, 8.49 bar gauge by telemetry" in words(done.stdout)
        done = dewline(
            *(*M, "--probe", "suction_pipe", "--value", "120 degC", "--at", "8m", *BY), *("-c", path)
        )
        assert done.exit_code == 1 and "say it once more with --sure" in words(done.stdout)
        assert len(_readings(path)) == 3
        hot = (*M, "--probe", "suction_pipe", "--value", "120 degC", "--at", "8m", *BY, "--sure", "-c", path)
        assert "DIFFERS" in dewline(*hot).stdout
        done = dewline(*M, "--withdraw", "4", *BY, "--why", "misread", "-c", path)
        assert done.exit_code == 0 and "is withdrawn by A. Fitter" in done.stdout
        for side, value, at in (("ahead", "14.4 degC", "9m"), ("after", "17.6 degC", "7m")):
            done = dewline(
                *(*M, "--inlet", "oil_return", "--side", side, "--value", value, "--at", at, *BY),
                *("-c", path),
            )
        assert done.exit_code == 0
        assert "it would be ahead of oil_return, but no other probe reads like" in words(done.stdout)
        listed = dewline(*M, "--list", "-c", path, COLUMNS="160")
        assert listed.exit_code == 1
        found = words(listed.stdout)
        assert "6 readings by hand" in found and "bare clamp" in found and "ahead of oil_return" in found
        explained = words(dewline("explain", "one/m1", "-c", path).stdout)
        assert "ON WHICH SIDE PROBES SIT, BY HAND" in explained and "both clamps may read warm" in explained
        body = json.loads(dewline("explain", "one/m1", "--json", "-c", path).stdout)
        assert {each["probe"] for each in body["sides_by_hand"]} >= {"compressor_inlet"}
        done = dewline("service", "one/m1", "replaced", *BY, "--why", "burnt out", "-c", path)
        assert done.exit_code == 0 and "Another unit stands at hill-house/one/m1 since" in done.stdout
        done = dewline(*CLAMP, *BY, "-c", path)
        assert done.exit_code == 1 and done.stdout.startswith("Another unit stood there then")
        done = dewline(*M, "--list", "-c", path, COLUMNS="160")
        assert done.exit_code == 0
        assert words(done.stdout).count("of the unit that stood here before; not used") == 5
        done = dewline("status", "one/m1", "--causes", "-c", path)
        assert done.exit_code == 0 and "first whole hour:" in words(done.stdout)
        for command in ("status", "explain"):
            told = words(dewline(command, "one/m1", "-c", path, COLUMNS="160").stdout)
            assert "its layout is not confirmed: `dewline service one/m1 confirm` once somebody" in told
        happened = words(dewline("alarms", "one/m1", "--all", "-c", path, COLUMNS="160").stdout)
        assert "module measure" in happened and "module replaced A. Fitter: burnt out" in happened
        agent.send_signal(signal.SIGTERM)
        assert agent.wait(30) == 0, log.read_text()


def _readings(path):
    return json.loads(dewline(*M, "--list", "--json", "-c", path).stdout)["readings"]

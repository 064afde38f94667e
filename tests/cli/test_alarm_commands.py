"""The commands about alarms as a person types them, beside a real agent, without one, and over a kill."""

import json
import re
import signal

import pytest

from agent.service.work.order import Kind
from agent.settings import load
from agent.store import Store
from tests.cli.test_cli import dewline, fill, site, words
from tests.mosquitto import free_port
from tests.receivers import HttpReceiver
from tests.service.processes import agent_on, eventually, process
from tests.service.site import WET_K

LOW = "superheat-low"
BY = ("--by", "A. Fitter")
KEPT = "no agent runs on this store; the command is kept and will be worked off when it starts\n"


def lonely(directory, **changes):
    """A configuration whose broker is not there, and whose one route is given."""
    return site(
        directory,
        broker={"telemetry": "plant", "port": free_port()},
        http={"port": free_port()},
        **changes,
    )


@pytest.fixture(scope="module")
def wet(tmp_path_factory):
    path = lonely(tmp_path_factory.mktemp("wet"))
    fill(path, WET_K)
    return path


def listed(path):
    done = dewline("alarms", "one/m1", "--json", "-c", path)
    return {each["alarm"]: each for each in json.loads(done.stdout)["alarms"]}, done.exit_code


def test_the_list_says_what_stands_in_which_state_and_since_when(wet):
    done = dewline("alarms", "-c", wet, COLUMNS="140")
    assert done.exit_code == 1
    found = words(done.stdout)
    assert "1 alarm, 1 unacknowledged no agent runs on this store; last assessed" in found
    assert re.search(
        r"one/m1 in shadow until \d\d \w{3} \d\d:\d\d UTC: its alarms are shown and not sent", found
    )
    assert re.search(
        r"superheat-low high unacknowledged, in shadow, since \d\d \w{3} \d\d:\d\d UTC: liquid is very "
        r"likely coming back: return superheat 0\.\d K .* at suction_pipe, even with all uncertainty "
        r"under 2 K",
        found,
    )


def test_the_list_of_a_module_that_nobody_has_assessed_is_empty_and_not_fine(wet):
    done = dewline("alarms", "two/m2", "--all", "-c", wet)
    assert done.exit_code == 1
    assert "no alarm" in done.stdout and "nothing happened to any alarm in that time" in done.stdout


def test_what_happened_and_the_rates(wet):
    done = dewline("alarms", "--all", "--rates", "--since", "24h", "-c", wet, COLUMNS="160")
    found = words(done.stdout)
    assert re.search(
        r"became known \d\d \w{3} \d\d:\d\d UTC one/m1 superheat-low raised, of .* liquid is very likely",
        found,
    )
    assert "Alarms sent over the last 24 h" in found
    assert "about 6 an hour are acceptable, 12 the most; more than 10 in 10 minutes are a flood" in found
    assert "read second-hand" in found
    body = json.loads(dewline("alarms", "--all", "--rates", "--json", "-c", wet).stdout)
    assert body.keys() == {"alarms", "happened", "rates"}
    assert body["happened"][0]["what"] == "raised" and body["happened"][0]["who"] is None


def test_status_says_the_state_too(wet):
    found = words(dewline("status", "-c", wet, COLUMNS="160").stdout)
    assert "priority high, unacknowledged, in shadow, since" in found
    assert "no agent runs on this store; last assessed" in found
    assert "note in shadow until" in found


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("ack", "m9", LOW, *BY), "module 'm9' is not configured"),
        (("ack", "one/m1", "superheat-lo", *BY), "did you mean 'superheat-low'"),
        (("ack", "one/m1", LOW), "Missing option '--by'"),
        (("ack", "one/m1", LOW, "--by", "a\x1b[2J"), "characters that can be printed"),
        (("ack", "one/m1", LOW, "--by", "  "), "characters that can be printed"),
        (("shelve", "one/m1", LOW, *BY, "--for", "8h"), "shelving takes a reason: --why TEXT"),
        (("shelve", "one/m1", LOW, *BY, "--why", "x"), "shelving takes an end: --for 8h"),
        (("shelve", "one/m1", LOW, *BY), "shelving takes an end: --for 8h and a reason: --why TEXT"),
        (("shelve", "one/m1", LOW, *BY, "--why", "x", "--for", "soon"), "is no length of time"),
        (("shelve", "one/m1", LOW, *BY, "--end", "--for", "8h"), "--end takes no --for"),
        (("service", "one/m1", "out", *BY), "out takes a reason"),
        (("service", "one/m1", "confirm", *BY, "--alarm", LOW), "confirm is of the whole module"),
        (("service", "one/m1", "dance", *BY), "'dance' is not one of"),
        (("service", "one/m1", "replaced", *BY), "replaced takes a reason: --why TEXT"),
        (("service", "one/m1", "relearn", *BY, "--why", "x", "--at", "1h"), "relearn takes no --at"),
        (("service", "one/m1", "replaced", *BY, "--at", "2100-01-01T00:00Z"), "is in the future"),
    ],
)
def test_what_is_typed_wrong_is_said_and_nothing_is_kept(wet, arguments, said):
    done = dewline(*arguments, "-c", wet)
    assert done.exit_code == 2
    assert said in words(done.stderr)
    with Store.open_readonly(load(wet).store_url) as store:
        assert store.waiting_commands() == []


def test_without_a_store_or_before_the_module_was_watched(tmp_path):
    path = lonely(tmp_path)
    done = dewline("ack", "one/m1", LOW, *BY, "-c", path)
    assert done.exit_code == 2 and "no store at" in done.stderr
    Store.open(load(path).store_url).close()
    done = dewline("ack", "one/m1", LOW, *BY, "-c", path)
    assert done.exit_code == 2
    assert "no agent has worked on hill-house/one/m1 yet: start it with `dewline run`" in done.stderr


def test_beside_a_running_agent_and_over_a_kill(tmp_path):
    with HttpReceiver() as receiver:
        path = lonely(tmp_path, notices={"routes": [{"name": "crew", "url": receiver.url}]})
        fill(path, WET_K)
        log = tmp_path / "agent.log"
        with process(agent_on(path), log) as agent:
            eventually(lambda: "watching" in log.read_text(), "the agent to start")
            done = dewline("ack", "one/m1", LOW, *BY, "--note", "on my way", "-c", path)
            assert (done.stdout, done.exit_code) == (
                f"{LOW} at hill-house/one/m1 is acknowledged by A. Fitter.\n",
                0,
            )
            found, code = listed(path)
            assert (found[LOW]["state"], found[LOW]["acknowledged_by"]) == ("acknowledged", "A. Fitter")
            assert (found[LOW]["note"], code) == ("on my way", 0)
            done = dewline("ack", "one/m1", LOW, *BY, "-c", path)
            assert done.exit_code == 1
            assert re.search(
                r"acknowledged already, by A\. Fitter at \d{4}-\d\d-\d\d \d\d:\d\d UTC", done.stdout
            )
            done = dewline("ack", "one/m1", "superheat-high", *BY, "-c", path)
            assert done.exit_code == 1 and "it does not stand" in done.stdout
            for what, more in (("out", ("--why", "coil out")), ("back", ())):
                done = dewline("service", "one/m1", what, *BY, *more, "-c", path)
            assert "of these stand, and wait to be acknowledged: superheat-low (A. Fitter had" in done.stdout
            assert alarms_told(receiver) == []  # in shadow
            done = dewline("service", "one/m1", "confirm", *BY, "-c", path)
            assert "its alarms are sent from now on" in done.stdout
            eventually(lambda: alarms_told(receiver), "the standing alarm to be sent")
            done = dewline("shelve", "one/m1", LOW, *BY, "--for", "8h", "--why", "part ordered", "-c", path)
            assert " is shelved by A. Fitter until " in done.stdout
            agent.send_signal(signal.SIGKILL)
            agent.wait(10)
        assert dewline("shelve", "one/m1", LOW, "--by", "B. Night", "--end", "-c", path).stdout == KEPT
        assert listed(path)[0][LOW]["state"] == "shelved"
        assert "shelved until" in dewline("status", "-c", path, COLUMNS="160").stdout
        with process(agent_on(path), log) as agent:
            eventually(lambda: listed(path)[0][LOW]["state"] == "unacknowledged", "it to be off the shelf")
            eventually(lambda: len(alarms_told(receiver)) == 2, "it to be sent once more")
            dewline("ack", "one/m1", LOW, *BY, "-c", path)
            dewline("shelve", "one/m1", LOW, *BY, "--for", "1h", "--why", "x", "-c", path)
            done = dewline("shelve", "one/m1", LOW, "--by", "C. Day", "--end", "-c", path)
            assert "stands, and waits to be acknowledged again (A. Fitter had acknowledged it" in done.stdout
            agent.send_signal(signal.SIGTERM)
            assert agent.wait(30) == 0, log.read_text()
        assert alarms_told(receiver)[:2] == [f"HIGH {LOW} at hill-house/one/m1"] * 2
        found = words(dewline("alarms", "one/m1", "--all", "-c", path, COLUMNS="160").stdout)
        for told in (
            "acknowledged A. Fitter: on my way",
            r"shelved until \d\d \w{3} \d\d:\d\d UTC A\. Fitter: part ordered",
            "unshelved B. Night",
        ):
            assert re.search(f"superheat-low {told}", found)
        assert "module confirm A. Fitter" in found


def alarms_told(receiver):
    return [subject for subject, _ in receiver.accepted if LOW in subject]


def test_what_would_be_refused_is_said_though_no_agent_runs(tmp_path):
    path = lonely(tmp_path)
    fill(path, WET_K)
    refused = "As things stand it would be refused: "
    assert dewline("ack", "one/m1", LOW, *BY, "-c", path).stdout == KEPT
    again = dewline("ack", "one/m1", LOW, *BY, "-c", path)
    assert again.stdout.startswith(f"{KEPT}{refused}it is acknowledged already")
    calm = dewline("ack", "one/m1", "superheat-high", *BY, "-c", path)
    assert calm.stdout == f"{KEPT}{refused}it does not stand, and there is nothing to acknowledge.\n"
    end = dewline("shelve", "one/m1", LOW, *BY, "--end", "-c", path)
    assert end.stdout == f"{KEPT}{refused}it is not shelved.\n"


def test_every_kind_of_command_can_be_typed(wet):
    """What the agent understands, and what a person can say."""
    typed = {
        Kind.ACKNOWLEDGE: ("ack", "one/m1", LOW, *BY),
        Kind.RESET: ("ack", "one/m1", LOW, *BY, "--reset"),
        Kind.SHELVE: ("shelve", "one/m1", LOW, *BY, "--for", "8h", "--why", "x"),
        Kind.UNSHELVE: ("shelve", "one/m1", LOW, *BY, "--end"),
        Kind.REMOVE: ("service", "one/m1", "out", *BY, "--why", "x"),
        Kind.RETURN: ("service", "one/m1", "back", *BY, "--alarm", LOW),
        Kind.CONFIRM: ("service", "one/m1", "confirm", *BY),
        Kind.RELEARN: ("service", "one/m1", "relearn", *BY, "--why", "x"),
        Kind.REPLACED: ("service", "one/m1", "replaced", *BY, "--why", "x", "--at", "2h"),
        Kind.MEASURE: (
            *("measure", "one/m1", "--probe", "suction_pipe", "--value", "12 degC", "--at", "now", *BY),
        ),
    }
    assert typed.keys() == set(Kind) - {
        Kind.REASSESS,
        Kind.WITHDRAW,
    }  # these: test_replay_command.py, test_measure_command.py
    for arguments in typed.values():
        done = dewline(*arguments, "-c", wet)
        assert done.stdout.startswith(KEPT) and done.exit_code == 0
    with Store.open_readonly(load(wet).store_url) as store:
        kept = store.waiting_commands()
    assert [each.kind for each in kept] == list(typed)
    assert {each.who for each in kept} == {"A. Fitter"}
    assert [each.alarm for each in kept] == [LOW] * 4 + [None, LOW, None, None, None, None]
    until_us = json.loads(kept[2].body)["until_us"]
    assert until_us - kept[2].created_us == 8 * 3600 * 1_000_000

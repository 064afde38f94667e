"""`dewline replay` as a person types it: what it says, what it refuses, and what it has the agent write."""

import json
import os
import pty
import re
import signal
import subprocess
import sys
import time

import pytest
import yaml

from agent.alarms import StateName
from agent.service.commands.commanding import work_off_commands
from agent.settings import REASSESSED
from agent.store import Store
from tests.bench_site import Bench
from tests.cli.test_cli import dewline, words
from tests.corrected import RIGHT, configurations, payloads
from tests.scenarios.scenario import DAY_US, START_US
from tests.service.processes import PATIENCE_S

DAYS = 4
SINCE = ("--since", "2025-11-03", "--until", "2025-11-07")
END_US = START_US + DAYS * DAY_US
TO_RIGHT = ("--layout", RIGHT, "--rename", "accumulator_outlet=compressor_inlet")
WRITE = ("--write", "--by", "A. Fitter", "--why", "pipes followed on the roof")


@pytest.fixture(scope="module")
def story():
    return payloads(DAYS)


@pytest.fixture(scope="module")
def wrong(tmp_path_factory, story):
    body, _ = configurations(story[0][1], 120)
    with Bench(tmp_path_factory.mktemp("wrong"), body) as bench:
        bench.live(story)
        yield bench


def replay(bench, *arguments, **environment):
    return dewline("replay", "m1", "-c", bench.file, *SINCE, *arguments, **{"COLUMNS": "140", **environment})


def test_nothing_differs(wrong):
    done = replay(wrong)
    assert done.exit_code == 0
    assert "Nothing differs from what is recorded." in done.stdout
    assert done.stderr == ""  # no bar where nobody watches


def test_another_layout_in_plain_sentences_and_side_by_side(wrong):
    done = replay(wrong, *TO_RIGHT)
    assert done.exit_code == 1
    found = words(done.stdout)
    assert f"Layout {RIGHT} in place of two-pipe-single-early." in found
    assert re.search(
        r"Return superheat in cooling was 8\.\d K \(taken at accumulator_outlet\), it is never decided\. "
        r"It was decided for 9\d % of the running time, it is for 0 %\.",
        found,
    )
    assert (
        "superheat-high: the one occurrence recorded would not have been raised; "
        "2 notices of it would not have been sent." in found
    )
    assert re.search(r"watch-blind: \d times it would have been raised and was not", found)
    assert "So: return superheat no longer decided, oil-return rise decided neither way, 1 alarm " in found
    assert re.search(r"time beyond the limit of superheat-high \d\.\d h 0\.0 h", found)
    assert "that is not simulated" in found


def test_shares_are_of_one_base_and_names_stay_whole_on_a_narrow_terminal(wrong):
    done = replay(wrong, "--refrigerant", "R-407C", COLUMNS="80")
    found = words(done.stdout)
    shares = re.search(r"It was decided for (\d+) % of the running time, it is for (\d+) %", found)
    either = re.search(r"It is decided for (\d+) % of the running time either way", found)
    said = shares.groups() if shares else either.groups() * 2
    rows = re.findall(r"decided, of all running time (\d+) % (\d+) %", found)
    assert rows == [said]  # one mode only: its share is the whole
    assert "grid times" not in found and "accumulator_outlet" in found
    assert found.endswith(".") and "So: return superheat 17.0 K lower" in found
    assert all(len(line) <= 80 for line in done.stdout.splitlines())


def test_without_a_since_the_lines_for_the_file_begin_with_the_first_reading(wrong):
    done = dewline("replay", "m1", "-c", wrong.file, *TO_RIGHT, *WRITE)
    assert "valid_from: '2025-11-03T00:0" in done.stderr


def test_what_the_layout_has_no_place_for_is_left_out_and_said(wrong):
    done = replay(wrong, "--layout", RIGHT)
    assert done.exit_code == 1
    found = words(done.stdout)
    assert f"Layout {RIGHT} has no place for accumulator_outlet: left out. --rename OLD=NEW says" in found


def test_another_refrigerant(wrong):
    found = words(replay(wrong, "--refrigerant", "R-407C").stdout)
    assert "Refrigerant R-407C in place of R-410A." in found
    # About 950 kPa the dew temperature of R-407C lies 17.0 K above that of R-410A: CoolProp 8.0.0, asked
    # directly. Superheat comes out as much smaller.
    assert "Where both are decided it is 17.0 K lower than recorded (median)" in found


def test_for_a_program(wrong):
    done = replay(wrong, *TO_RIGHT, "--json")
    body = json.loads(done.stdout)
    assert body["differs"] is True and body["module"] == "bench/one/m1"
    assert body["quantities"]["return_superheat"]["replayed"]["cooling"]["median"] is None
    (high,) = body["alarms"]["superheat-high"]
    assert high["fate"] == "withdrawn" and high["notices"] == 2 and high["replayed"] is None
    assert body["assessed"]["recorded"] == body["assessed"]["replayed"]


def test_a_whole_other_configuration(wrong, story, tmp_path):
    _, right = configurations(story[0][1], 120)
    other = tmp_path / "other"
    with Bench(other, right) as bench:
        file = bench.file
    done = replay(wrong, "--with", file)
    assert done.exit_code == 1
    assert f"Layout {RIGHT} in place of two-pipe-single-early." in words(done.stdout)
    right["systems"]["two"] = right["systems"].pop("one")
    with Bench(other, right, "moved") as bench:
        file = bench.file
    done = replay(wrong, "--with", file)
    assert done.exit_code == 2
    assert f"{file} has no module bench/one/m1; it has bench/two/m1" in words(done.stderr)


def test_limits_tried(wrong, tmp_path):
    file = tmp_path / "limits.yaml"
    file.write_text("superheat-high:\n  limit_k: 22.5\n")
    done = replay(wrong, "--limits", file)
    assert done.exit_code == 1
    found = words(done.stdout)
    assert re.search(
        r"superheat-high \(limit_k 14 to 22\.5, second_best_k 20 to 22\.5\): 1 alarm now, "
        r"1 as proposed\. The proposed limit lies within U of the value for \d+ % of the time for which "
        r"it is decided: there the instruments cannot tell on which side it is\.",
        found,
    )
    assert re.search(r"limits\s+now\s+as proposed", done.stdout)
    assert "superheat-high, alarms raised 1 1 stands 9.0 h 3.1 h" in found


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("superheat-low: {limit_k: 3.0}\nsuperheat-hi: {limit_k: 9.0}\n", ":2:1: no alarm 'superheat-hi'"),
        ("superheat-low:\n  limit: 3.0\n", ":2:3: unknown key 'limit'; did you mean 'limit_k'"),
        ("superheat-low:\n  limit_k: much\n", ":2:12: found 'much'; right would be a number"),
        (
            "superheat-low:\n  limit_c: 3.0\n",
            ":2:3: superheat-low has no limit_c; right would be limit_k",
        ),
        ("limits:\n  superheat-low: {limit_k: 4}\n", ":1:1: leave out the line limits: and begin with the"),
        ("superheat-low: {wrong: 4}\n", ":1:17: unknown key 'wrong'"),
        ("- superheat-low\n", ":1:1: a file of limits is a mapping of alarms"),
        ("superheat-low: [\n", ":2:1: "),
    ],
)
def test_a_file_of_limits_has_its_mistakes_told_with_their_place(wrong, tmp_path, text, said):
    file = tmp_path / "limits.yaml"
    file.write_text(text)
    done = replay(wrong, "--limits", file)
    assert done.exit_code == 2
    assert f"{file}{said}" in done.stderr
    assert "superheat-low: {limit_k: 4}" in done.stderr  # an example of how it would be right


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--layout", "two-pipe-twin-lat"), "did you mean 'two-pipe-twin-late'"),
        (("--refrigerant", "R-22"), "no refrigerant 'R-22'; there are R-134a, R-32, "),
        (("--rename", "accumulator_outlet"), "is no renaming; right would be OLD=NEW"),
        (("--rename", "acumulator_outlet=suction_pipe"), "has no signal 'acumulator_outlet'; did you mean"),
        (("--layout", RIGHT, "--rename", "accumulator_outlet=inlet_9"), "has no place for signal 'inlet_9'"),
        (
            ("--rename", "accumulator_outlet=outdoor_coil_gas"),
            "would both be outdoor_coil_gas; right would be a name for each, such as --rename",
        ),
        (("--rename", "mode=bypass_valve", "--rename", "mode=x"), "mode is renamed twice"),
        (("--rename", "suction_pressure=discharge_pressure"), "would both be discharge_pressure"),
        (("--since", "soon"), "'soon' is no time; right would be 90d (back from now), a day such as"),
        (("--since", "2025-11-08"), "--since lies after --until"),
        (("--since", "2020-01-01", "--until", "2020-01-02"), "has nothing of bench/one/m1 in that time"),
        (("--write",), "--write takes who says so and the reason: --by NAME --why TEXT"),
        (("--by", "me"), "--by and --why go with --write"),
    ],
)
def test_what_is_typed_wrong_is_said(wrong, arguments, said):
    done = replay(wrong, *arguments)
    assert done.exit_code == 2
    assert said in words(done.stderr)


def test_a_layout_that_lacks_what_it_needs_is_refused_by_the_same_checks_as_a_file(wrong):
    done = replay(wrong, "--layout", RIGHT, "--rename", "mode=bypass_valve", "--rename", "bypass_valve=mode")
    assert done.exit_code == 2
    assert "the configuration cannot be used" in done.stderr and f"{wrong.file}:" in done.stderr


class TestWriting:
    def test_it_is_refused_with_the_lines_for_the_file(self, wrong, tmp_path):
        done = replay(wrong, *TO_RIGHT, *WRITE)
        assert done.exit_code == 2
        assert "the file stays the only truth" in words(done.stderr)
        lines = done.stderr.split("\n\n", 1)[1]
        assert f"layout: {RIGHT}\n          valid_from: '2025-11-03T00:00:00+00:00'" in lines
        assert "signal_set: bench-on-two-pipe-twin-late" in lines
        assert "by: A. Fitter\n          why: pipes followed on the roof" in lines
        assert "replace the first entry of layout: instead" in done.stderr
        with Store.open_readonly(wrong.plan.store_url) as store:
            assert store.waiting_commands() == []

    def test_those_lines_make_the_file_say_it(self, wrong, story, tmp_path):
        """Put into the file as told, they give what the options gave."""
        body = yaml.safe_load(wrong.file.read_text())
        lines = yaml.safe_load(replay(wrong, *TO_RIGHT, *WRITE).stderr.split("\n\n", 1)[1])
        body["signal_sets"] |= lines["signal_sets"]
        body["systems"]["one"]["modules"]["m1"] |= lines["systems"]["one"]["modules"]["m1"]
        file = wrong.directory / "as-told.yaml"
        file.write_text(yaml.safe_dump(body))
        one = json.loads(replay(wrong, *TO_RIGHT, "--json").stdout)
        other = json.loads(replay(wrong, "--with", file, "--json").stdout)
        assert one["quantities"] == other["quantities"] and one["alarms"] == other["alarms"]

    @pytest.mark.parametrize(
        ("arguments", "line"),
        [(("--refrigerant", "R-32"), "refrigerant: R-32"), (("--limits", "FILE"), "limit_k: 3.0")],
    )
    def test_the_same_of_a_refrigerant_and_of_limits(self, wrong, tmp_path, arguments, line):
        (tmp_path / "limits.yaml").write_text("superheat-low: {limit_k: 3.0}\n")
        stated = [tmp_path / "limits.yaml" if each == "FILE" else each for each in arguments]
        done = replay(wrong, *stated, *WRITE)
        assert done.exit_code == 2 and line in done.stderr

    def test_another_configuration_is_to_take_the_place_of_the_file(self, wrong):
        done = replay(wrong, "--with", wrong.file, *WRITE)
        assert done.exit_code == 2
        assert f"Put what {wrong.file} says of the module into {wrong.file}" in words(done.stderr)

    def test_first_the_agent_has_to_run_on_the_file(self, wrong, story):
        before = wrong.file.read_text()
        try:
            wrong.file.write_text(before.replace("refrigerant: R-410A", "refrigerant: R-32"))
            done = replay(wrong, *WRITE)
            assert done.exit_code == 2
            assert "the agent does not run on what" in words(done.stderr) and "SIGHUP" in done.stderr
            assert "The agent does not run on what" in words(replay(wrong).stdout)
        finally:
            wrong.file.write_text(before)

    def test_where_it_would_be_the_same_nothing_is_written(self, wrong):
        done = replay(wrong, *WRITE)
        assert done.exit_code == 0 and "Nothing is written: it would be the same." in done.stdout


def test_an_older_past_than_a_correction_reaches_is_assessed_anew(tmp_path, story, monkeypatch):
    """The reach of a correction is cut to a day here, so that days will do in place of months."""
    monkeypatch.setattr("agent.service.work.registering.CATCH_UP_US", DAY_US)
    monkeypatch.setattr("agent.service.work.to_do.CATCH_UP_US", DAY_US)
    before, after = configurations(story[0][1], 120)
    with Bench(tmp_path, before) as bench:
        bench.live(story)
        bench.restart(after, END_US + 2 * DAY_US)
        bench.assessor.work_off(bench.watched, END_US + 2 * DAY_US)
        lines = bench.store.journal(bench.watched.module_id, 0, 2**62)
        assert [e.transition for e in lines if e.alarm == "superheat-high"] == ["raised", "cleared"]
        done = replay(bench, *WRITE)
        assert done.exit_code == 0
        assert "no agent runs on this store; the command is kept" in done.stdout
        told = len(bench.notices)
        first = bench.watched.revision_id
        assert work_off_commands(bench.store, bench.alarms, [bench.watched], END_US + 2 * DAY_US) == 1
        command = bench.store.command(1)
        assert command.outcome.startswith("bench/one/m1 is assessed anew from 2025-11-03 00:02 UTC to 2025")
        assert bench.watched.revision_id == first + 1
        revision = bench.store.current_revision(bench.watched.module_id)
        assert revision.reason == "assessed anew: pipes followed on the roof (A. Fitter)"
        assert json.loads(revision.body)[REASSESSED]["by"] == "A. Fitter"
        bench.assessor.work_off(bench.watched, END_US + 2 * DAY_US + bench.grace_us)
        lines = bench.store.journal(bench.watched.module_id, 0, 2**62)
        high = [e.transition for e in sorted(lines, key=lambda e: e.id) if e.alarm == "superheat-high"]
        assert high == ["raised", "cleared", "withdrawn"]
        life = bench.watched.lives["superheat-high"]
        assert life.withdrawn == revision.reason and life.standing(END_US) is StateName.NORMAL
        assert [s for _, _, s in bench.notices[told:]] == ["PAST alarms at bench/one/m1"]
        kept = bench.store.assessments(bench.watched.module_id, START_US, END_US)
        assert {each.revision_id for each in kept} == {first + 1}
        old = bench.store.assessments(bench.watched.module_id, START_US, END_US, 1)
        assert len(old) == len(kept)  # what was believed before is kept
        assert replay(bench).exit_code == 0
        # A new process on the same file goes on under that revision.
        bench.restart(after, END_US + 3 * DAY_US)
        assert bench.watched.revision_id == first + 1


def test_ctrl_c_ends_it_cleanly_and_a_terminal_sees_a_bar(wrong, monkeypatch):
    arguments = ["replay", "m1", "-c", str(wrong.file), *SINCE]
    ours, theirs = pty.openpty()
    slow = "import time, agent.service.work.evaluating as e; p = e.Evaluation.piece\n"
    slow += "e.Evaluation.piece = lambda *a: (time.sleep(0.5), p(*a))[1]\n"
    slow += f"import sys; sys.argv[1:] = {arguments!r}\nfrom agent.cli import main; main()"
    process = subprocess.Popen(
        [sys.executable, "-c", slow],
        stdout=subprocess.PIPE,
        stderr=theirs,
        env={**os.environ, "TERM": "xterm"},
    )
    os.close(theirs)
    seen = b""
    until = time.monotonic() + PATIENCE_S
    while b"%" not in seen and time.monotonic() < until:
        seen += os.read(ours, 4096)
    assert b"replaying" in seen
    process.send_signal(signal.SIGINT)
    out, _ = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 130 and out == b""

"""Every command as people of two sites read it, and as programs go on reading it, on one store each.

Exact by definition: 1 degF = 5/9 K, 0 degC = 32 degF; 1 psi = 6.894757 kPa, 1 bar = 100 kPa (NIST SP 811).
"""

import re

import pytest
import yaml

from tests.cli.test_alarm_commands import LOW, lonely
from tests.cli.test_cli import dewline, fill, words
from tests.outlets.test_sentences import LEFT
from tests.service.processes import agent_on, eventually, process
from tests.service.site import WET_K

DENVER = {"temperature": "degF", "pressure": "psi", "zone": "America/Denver"}
BERLIN = {"temperature": "degC", "pressure": "bar", "zone": "Europe/Berlin"}
BY = ("--by", "A. Fitter")
SI = {"temperature": "degC", "pressure": "kPa", "zone": "UTC"}
OFFSETS = {"Denver": r"-0[67]:00", "Berlin": r"\+0[12]:00"}


def written(path, name, display):
    """The same configuration on the same store, for other people."""
    body = yaml.safe_load(path.read_text()) | {"display": display}
    other = path.with_name(f"{name}.yaml")
    other.write_text(yaml.safe_dump(body))
    return other


@pytest.fixture(scope="module")
def sites(tmp_path_factory):
    path = lonely(tmp_path_factory.mktemp("wet"), elevation_m=500)
    fill(path, WET_K)
    displays = {"SI": SI, "Denver": DENVER, "Berlin": BERLIN}
    return {name: written(path, name, display) for name, display in displays.items()}


def read(*arguments):
    done = dewline(*arguments, COLUMNS="160")
    return words(done.stdout + done.stderr)


PEOPLE = {
    "status": ("status",),
    "alarms": ("alarms", "one/m1", "--all", "--rates"),
    "history": ("history", "one/m1", "--since", "2h"),
    "readings": ("history", "one/m1", "--since", "2h", "--readings"),
    "check": ("check",),
    "explain": ("explain", "one/m1"),
    "evidence": ("explain", "one/m1", "--evidence"),
    "causes": ("status", "one/m1", "--causes"),
    "replay": ("replay", "one/m1", "--since", "1h"),
    "list": ("measure", "one/m1", "--list"),
    "nothing kept": ("history", "two/m2"),
}


@pytest.mark.parametrize("command", PEOPLE)
def test_denver_reads_neither_kelvin_nor_utc(sites, command):
    found = read(*PEOPLE[command], "-c", sites["Denver"])
    assert "Traceback" not in found
    assert command == "readings" or LEFT.search(found) is None  # readings stay as they were received
    assert " UTC" not in found.replace("whole days of UTC", "")
    if command not in ("check", "explain", "list"):
        assert re.search(OFFSETS["Denver"], found)


@pytest.mark.parametrize("command", PEOPLE)
def test_berlin_reads_its_own_clock(sites, command):
    found = read(*PEOPLE[command], "-c", sites["Berlin"])
    assert " kPa" not in found or command == "readings"
    assert " UTC" not in found.replace("whole days of UTC", "")
    if command not in ("check", "explain", "list"):
        assert re.search(OFFSETS["Berlin"], found)


def test_figures(sites):
    """0.4 K is 0.7 degF; the uncertainty -1.7 +0.7 K -3.1 +1.3; 5 degC are 41 degF, and R-410A has 936 kPa
    absolute there (CoolProp), 136 psi, 9.36 bar."""
    found = read("status", "-c", sites["Denver"])
    assert re.search(r"return superheat 0\.[5-9] degF -3\.\d \+1\.\d suction_pipe", found)
    found = read("explain", "one/m1", "-c", sites["Denver"])
    assert re.search(r"near 41 degF saturated suction, 13[5-6] psi absolute of R-410A", found)
    assert (
        "superheat-low: 3.6 degF" in found
        and "discharge-temperature-high: 221 degF, urgent from 239 degF" in found
    )
    assert "near 5 degC saturated suction, 9.3" in read("explain", "one/m1", "-c", sites["Berlin"])


@pytest.mark.parametrize(
    "arguments",
    [
        ("status", "--json"),
        ("status", "one/m1", "--causes", "--json"),
        ("alarms", "--all", "--json"),
        ("history", "one/m1", "--since", "3h", "--format", "csv"),
        ("history", "one/m1", "--since", "3h", "--format", "json"),
        ("history", "one/m1", "--since", "3h", "--readings", "--format", "csv"),
        ("explain", "one/m1", "--json"),
        ("explain", "one/m1", "--evidence", "--json"),
        ("measure", "one/m1", "--list", "--json"),
    ],
)
def test_programs_read_the_same_at_every_site(sites, arguments):
    ours, denver, berlin = (
        dewline(*arguments, "-c", sites[name]).stdout for name in ("SI", "Denver", "Berlin")
    )
    assert ours == denver == berlin != ""


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--probe", "suction_pipe", "--value", "53"), "one of degF, degC, Cel, K"),
        (("--probe", "suction_pipe", "--value", "400 degF"), "right would be between -76 and 302 degF"),
        (("--transducer", "suction_pressure", "--value", "119 psi"), 'right would be such as "119 psig"'),
        (("--transducer", "suction_pressure", "--value", "9e9 psig"), "between 1.5 psi and 870 psi absolute"),
    ],
)
def test_what_would_be_right_is_said_in_the_sites_units(sites, arguments, said):
    done = dewline("measure", "one/m1", *arguments, "--at", "now", *BY, "-c", sites["Denver"])
    assert done.exit_code == 2 and said in words(done.stderr)


@pytest.mark.parametrize(
    "arguments",
    [
        (
            "measure",
            "one/m1",
            "--probe",
            "suction_pipe",
            "--value",
            "52 degF",
            *BY,
            "--at",
            "14:05",
        ),
        ("service", "one/m1", "replaced", *BY, "--why", "x", "--at", "14:05"),
    ],
)
def test_a_time_without_its_offset_is_refused_with_an_example_by_the_sites_clock(sites, arguments):
    for name in ("Denver", "Berlin"):
        for ordered in ((*arguments, "-c", sites[name]), (arguments[0], "-c", sites[name], *arguments[1:])):
            done = dewline(*ordered)
            assert done.exit_code == 2
            assert re.search(rf"T14:05{OFFSETS[name]}, now, or 20m \(ago\)", words(done.stderr))


def test_a_time_of_a_replay_without_its_offset(sites):
    """On 1 August clocks in Denver are 6 h behind UTC (IANA time zone database)."""
    done = dewline("replay", "one/m1", "--since", "noon", "-c", sites["Denver"])
    assert "a day of UTC such as 2026-08-01, or 2026-08-01T14:00-06:00" in words(done.stderr)


def test_answers_of_the_running_agent(tmp_path):
    """11.0 degC are 51.8 degF, 0.5 K 0.9 degF; 8.6 bar are 124.7 psi, 35 kPa 5.1. What was typed stays so."""
    path = lonely(tmp_path, elevation_m=500, display=DENVER)
    fill(path, WET_K)
    log = tmp_path / "agent.log"
    to, of, when = ("-c", path, *BY), ("one/m1", LOW), r"\d{4}-\d\d-\d\d \d\d:\d\d -0[67]:00"

    def says(pattern, *arguments):
        found = read(*arguments)
        assert re.search(pattern.replace("WHEN", when), found), found
        assert " UTC" not in found
        return found

    with process(agent_on(path), log):
        eventually(lambda: "watching" in log.read_text(), "the agent to start")
        says(r"is acknowledged by A\. Fitter", "ack", *of, *to, "--note", "10 K off")
        says(r"already, by A\. Fitter at WHEN", "ack", *of, *to)
        says(r"until WHEN; before", "shelve", *of, *to, "--for", "8h", "--why", "valve")
        says(r"had acknowledged it at WHEN\)", "shelve", *of, *to, "--end")
        says(r"learnt anew from WHEN on", "service", "one/m1", "relearn", *to, "--why", "x")
        measure = ("measure", "one/m1", *to)
        clamp = (*measure, "--at", "5m", "--probe", "suction_pipe", "--value")
        gauge = (*measure, "--at", "5m", "--transducer", "suction_pressure", "--value")
        says(
            r"\(given as 11\.0 degC\): 51\.8 degF by hand, 42\.\d degF by telemetry: 9\.\d degF",
            *clamp, "11.0 degC", "--note", "clamp of 10 K",
        )  # fmt: skip
        says(r"\(given as 8\.6 bar gauge\): 124\.7 psi gauge by hand, 12\d\.\d psi", *gauge, "8.6 bar gauge")
        says(r"140\.0 degF by hand, and telemetry says 42\.\d degF\. Nothing", *clamp, "140 degF")
        reading = r"Reading 1 of hill-house/one/m1 \(11\.0 degC, suction_pipe, WHEN\) is withdrawn"
        says(reading, *measure, "--withdraw", "1", "--why", "10 K off")
        listed = read("measure", "one/m1", "--list", "-c", path)
        assert "given as 11.0 degC, right within ±0.9 degF" in listed and "clamp of 10 K" in listed
        assert "given as 8.6 bar gauge, right within ±5.1 psi" in listed
        happened = says(rf"{reading}.* 10 K off", "alarms", "one/m1", "--all", "-c", path)
        assert "A. Fitter: 10 K off" in happened and "51.8 degF by hand" in happened
        for arguments in (("alarms", "one/m1", "--all"), ("measure", "one/m1", "--list")):
            body = dewline(*arguments, "--json", "-c", path).stdout
            assert body == dewline(*arguments, "--json", "-c", written(path, "SI", SI)).stdout
            assert "11.0 degC by hand" in body and "degF" not in body and "-07:00" not in body
        says(
            r"at hill-house/one/m1 since WHEN",
            "service",
            "one/m1",
            "replaced",
            *to,
            "--why",
            "x",
            "--at",
            "20m",
        )
        says(r"another unit stands here since .* -0[67]:00", "status", "-c", path)

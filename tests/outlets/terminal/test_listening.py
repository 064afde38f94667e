"""What a commissioning technician reads: every state in words, at 80 columns, and what to do next."""

from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

from agent.assess import SECOND, Findings, Suspicion
from agent.outlets import heard_mapping, listen_progress, render_heard
from agent.outlets.terminal.heard import Heard, HeardModule, HeardSignal, HeardSite, Progress, Unmapped
from agent.outlets.terminal.listening import next_step
from agent.settings import ModulePath

PIPE = HeardSignal(
    name="suction_pipe",
    point="suction_pipe",
    state=Heard.ARRIVING,
    detail="",
    dimension="temperature",
    every_us=30 * SECOND,
    max_age_us=120 * SECOND,
    on_change=False,
    count=3,
    raw=52.7,
    unit="degF",
    value=11.5,
    age_us=12 * SECOND,
    period_us=30 * SECOND,
    step_seen=0.1,
    step=0.1,
    accuracy=0.5,
)
GAUGE = replace(
    PIPE,
    name="suction_pressure",
    point="AI7",
    dimension="pressure",
    raw=843,
    unit="kPa gauge",
    value=944_325.0,
    step_seen=1000.0,
    step=1000.0,
    accuracy=10_000.0,
)
MODE = replace(
    PIPE, name="mode", point="mode", dimension="", raw="cool", unit="", value=3.0, meaning="cooling",
    step_seen=None, step=0.0, accuracy=0.0,
)  # fmt: skip
SUSPECT = Suspicion(
    "mapping", ("suction_pipe",), "it reads 67 degC", "it would be ordinary if X", "the points"
)
DOOR = Unmapped("plant/a/b/c", "Door", 4, 1, None, "", "", None)


def silent(name, state=Heard.SILENT, detail="never heard", **more):
    return HeardSignal(name, name, state, detail, "temperature", 30 * SECOND, 120 * SECOND, False, **more)


def site(
    *signals, suspicions=(), cannot_tell=(), unmapped=(), notes=(), refused=(), messages=9, clock_us=None
):
    module = HeardModule(
        ModulePath("hill-house", "one", "m1"),
        "plant/hill-house/one/m1",
        "two-pipe-twin-late",
        "R-32",
        signals or (PIPE, GAUGE, MODE),
        Findings(tuple(suspicions), tuple(cannot_tell)),
        tuple(refused),
        clock_us,
    )
    return HeardSite(
        "broker.example:1883",
        60 * SECOND,
        None,
        messages,
        ("plant/#",),
        (module,),
        tuple(unmapped),
        0,
        tuple(notes),
    )


def shown(of, width=80, **how):
    out = StringIO()
    Console(file=out, width=width).print(render_heard(of, **how))
    return out.getvalue()


def words(text):
    return " ".join(text.split())


def row(text, name):
    return next(line.split() for line in text.splitlines() if line.strip().startswith(name))


@pytest.mark.parametrize("width", [80, 120])
def test_a_row_has_what_came_what_it_is_and_how_often(width):
    text = shown(site(), width)
    pipe = ["52.7", "degF", "11.5", "degC", "12", "s", "30/30", "0.1/0.1", "0.5", "3"]
    assert row(text, "suction_pipe")[1:] == pipe
    assert row(text, "suction_pressure")[1:] == [
        "843",
        "kPa",
        "944",
        "kPa",
        "12",
        "s",
        "30/30",
        "1/1",
        "10",
        "3",
    ]
    assert row(text, "mode")[1:] == ["cool", "cooling", "12", "s", "30/30", "3"]
    assert "point AI7" in text
    assert all(len(line) <= width for line in text.splitlines())


def test_a_state_without_a_meaning_and_a_period_not_known():
    text = shown(site(replace(MODE, value=None, meaning=None, period_us=None)))
    assert row(text, "mode")[1:] == ["cool", "?", "12", "s", "?/30", "3"]


def test_a_signal_sent_on_change_is_not_held_against_a_period():
    assert "change" in row(shown(site(replace(PIPE, on_change=True))), "suction_pipe")


@pytest.mark.parametrize(
    ("state", "detail"),
    [
        (Heard.SILENT, "never heard"),
        (Heard.RETAINED, "the broker kept it from before, and nothing new came"),
        (Heard.REFUSED, "unit: right is degC"),
        (Heard.OLD, "it comes with values older than max_age_s 120"),
        (Heard.NOT_DUE, "every 120 s, so that silence says something after 240 s"),
    ],
)
def test_what_does_not_arrive_says_why(state, detail):
    of = site(PIPE, silent("liquid_line", state, detail), silent("outdoor_air", state, detail))
    text = words(shown(of))
    assert f"{state} liquid_line, outdoor_air: {detail}" in text
    assert "1 of 3 mapped signals arrive" in text and f"2 {state}" in text
    assert not of.is_fine and not heard_mapping(of)["fine"]


def test_a_suspicion_has_its_evidence_its_meaning_and_where_to_look_and_the_cautions_follow():
    text = words(shown(site(suspicions=[SUSPECT])))
    assert (
        "SUSPECT suction_pipe seen it reads 67 degC means it would be ordinary if X look at the points"
        in text
    )
    assert "R-32 is mildly flammable (A2L)" in text and "Isolate and lock out" in text
    assert "1 suspicion" in text
    assert "Isolate" not in shown(site())


def test_what_cannot_be_told_is_said_once_with_its_modules():
    text = words(shown(site(cannot_tell=["whether it stands still"])))
    assert "Cannot tell one/m1: whether it stands still" in text


def test_unmapped_records_stand_by_topic():
    may = replace(DOOR, name="SuctionPipe", value=11.5, unit="Cel", likely="suction_pipe of one/m1")
    unread = replace(DOOR, topic="plant/x", name="", value="12.5", reason="not-senml", detail="found 12.5")
    text = words(shown(site(unmapped=[DOOR, may, unread])))
    assert "plant/a/b/c Door 1 4 x SuctionPipe 11.5 Cel 4 x may be suction_pipe of one/m1" in text
    assert "plant/x (payload) 12.5 4 x cannot be read, not-senml: found 12.5" in text


def test_markup_and_control_characters_from_outside_stay_text():
    odd = replace(
        DOOR, topic="plant/[red]x\x1b[31m", name="", value="[bold]\x1b[2J", reason="not-senml", detail="y"
    )
    text = shown(site(replace(MODE, raw="\x1b[2Jon"), unmapped=[odd], notes=["[blink]"]))
    assert "?[2Jon" in text
    assert "\x1b" not in text and "[red]x?[31m" in text and "[bold]?[2J" in text and "[blink]" in text


def test_the_clock_of_a_gateway_is_told_where_it_is_off():
    assert "its clock 3 min behind" in words(shown(site(clock_us=200 * SECOND)))
    assert "its clock 40 s ahead" in words(shown(site(clock_us=-40 * SECOND)))
    assert "clock" not in shown(site(clock_us=2 * SECOND))


def test_what_was_refused_beside_the_signals():
    assert "refused on its topic, bad-record: record 1" in words(
        shown(site(refused=["bad-record: record 1"]))
    )


@pytest.mark.parametrize(
    ("of", "said"),
    [
        (site(), "everything mapped arrives and nothing looks wrong"),
        (site(unmapped=[DOOR]), "map what is wanted of the 1 unmapped record"),
        (site(PIPE, silent("liquid_line")), "find out why 1 mapped signal (liquid_line)"),
        (site(PIPE, silent("a"), silent("b")), "find out why 2 mapped signals (a, ...)"),
        (site(PIPE, silent("a", Heard.NOT_DUE)), "listen for longer: 1 signal may still come (--for 1min)"),
        (site(suspicions=[SUSPECT]), "look into the suspicion above"),
        (site(suspicions=[SUSPECT, SUSPECT]), "look into the first suspicion above"),
        (site(silent("a"), messages=0), "nothing came on plant/#"),
        (site(silent("a", Heard.NOT_DUE), silent("b"), messages=0), "nothing came on plant/#"),
        (
            site(silent("a", Heard.NOT_DUE), messages=0),
            "too early to tell: nothing came, and nothing is due yet; listen for longer (--for 1min)",
        ),
    ],
)
def test_the_last_line_says_what_to_do_next(of, said):
    assert said in next_step(of)
    assert words(shown(of, 200)).endswith(words(f"Next: {next_step(of)}"))


def test_everything_mapped_and_no_suspicion_is_fine_whatever_is_unmapped():
    assert site(unmapped=[DOOR]).is_fine and site().is_fine
    assert not site(suspicions=[SUSPECT]).is_fine


def test_while_listening_a_module_without_a_finding_is_a_line():
    text = shown(site(), over=False)
    assert "one/m1  all 3 signals arrive, nothing looks wrong" in text and "Next:" not in text
    assert "SUSPECT" in shown(site(suspicions=[SUSPECT]), over=False)


def test_progress():
    out = StringIO()
    Console(file=out, width=80).print(listen_progress(Progress(20 * SECOND, 9, 5, 7, 1), 60 * SECOND))
    assert "40 s left: 5 of 7 mapped signals, 1 unmapped, 9 messages" in out.getvalue()
    assert len(out.getvalue().splitlines()) == 1


def test_plain_data_has_units_in_its_names_and_no_number_for_a_state():
    signals = heard_mapping(site())["modules"][0]["signals"]
    assert signals["suction_pipe"]["value_celsius"] == 11.5
    assert signals["suction_pressure"]["value_pascals_absolute"] == 944_325.0
    assert signals["suction_pressure"]["point"] == "AI7"
    assert signals["mode"]["meaning"] == "cooling" and not any(
        key.startswith("value") for key in signals["mode"]
    )


def test_a_clock_ahead_of_ours_is_an_age_below_zero():
    ahead = replace(PIPE, age_us=-3 * SECOND)
    assert " -3 s " in words(shown(site(ahead)))

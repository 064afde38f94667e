"""What check shows: at 80 columns, in words, every figure an expected one."""

import io
import json

import orjson
import pytest
from rich.console import Console

from agent.outlets import check_mapping, render_check, render_wrong
from agent.settings import ConfigError, Finding, alike, load, notes
from tests.settings.site import ROOT, good, plan

WIDTH = 80


def printed(what):
    console = Console(width=WIDTH, file=io.StringIO(), highlight=False, color_system=None)
    console.print(what)
    return console.file.getvalue()


def flat(text):
    return " ".join(text.split())


@pytest.fixture(scope="module")
def demo():
    found = load(ROOT / "config" / "demo.yaml")
    groups = alike(found)
    return found, groups, notes(found, groups)


def test_it_fits_the_terminal_and_loses_no_word(demo):
    text = printed(render_check(*demo))
    assert max(len(line) for line in text.splitlines()) <= WIDTH
    for group in demo[1]:
        for assessment in group.modes.values():
            assert flat(assessment.quantities["return_superheat"].said.text).split()[0] in text
    for note in demo[2]:
        assert note.message.split(": ")[-1].split()[0] in flat(text)


def test_what_a_technician_reads_of_a_module(demo):
    text = flat(printed(render_check(*demo)))
    assert text.startswith("The configuration can be used: 5 modules.")
    assert "north/n1, north/n2 two-pipe-twin-late, R-410A cooling, at a dew temperature of 5 degC" in text
    assert "suction_pipe, fit: all returning vapour, before anything is mixed in" in text
    assert "outdoor_coil_gas, fit: all returning vapour" in text
    assert "oil-return rise not measurable no probe sits after the oil return" in text
    assert "compressor_inlet, upper bound: oil_return (warms) joins upstream; good for gas density" in text
    assert f"{len(demo[2])} notes; nothing of this hinders running." in text


def test_many_alike_are_one_block_with_a_short_heading(tmp_path):
    data = good()
    data["systems"]["north"]["modules"] = {
        "n[1..20]": {"layout": "two-pipe-twin-late", "signal_set": "polled"}
    }
    found = plan(tmp_path, data)
    text = printed(render_check(found, alike(found), []))
    assert "north/n1, north/n2, north/n3 and 17 more  two-pipe-twin-late" in text
    assert text.count("cooling, at") == 1
    assert "note" not in text


def test_a_layout_that_is_not_known(tmp_path):
    data = good()
    data["systems"]["north"]["modules"]["n1"]["layout"] = "unknown"
    found = plan(tmp_path, data)
    assert "nothing is judged: the layout is not known" in printed(render_check(found, alike(found), []))


def test_mistakes_with_their_places():
    wrong = [
        Finding("site.yaml", 3, 9, "no layout file x; did you mean 'y'?"),
        Finding("l/y.yaml", 1, 1, "empty"),
    ]
    text = printed(render_wrong(wrong))
    assert text.startswith("The configuration cannot be used: 2 mistakes.")
    assert "site.yaml:3:9\n    no layout file x; did you mean 'y'?" in text


def test_for_a_program(demo):
    body = json.loads(orjson.dumps(check_mapping(demo[0], demo[1], [], demo[2])))
    assert body["usable"] is True and body["findings"] == []
    assert [each["module"] for each in body["modules"]] == ["n1", "n2", "s1", "s2", "e1"]
    first = body["modules"][0]["modes"]["cooling"]
    assert first["dew_temperature_celsius"] == 5
    returned = first["quantities"]["return_superheat"]
    assert (returned["status"], returned["standing"], returned["probes"]) == (
        "decided",
        "fit",
        ["suction_pipe"],
    )
    assert returned["uncertainty_below"] > returned["uncertainty_above"] > 0
    rise = body["modules"][2]["modes"]["cooling"]["quantities"]["oil_return_rise"]
    assert (rise["status"], rise["uncertainty_below"]) == ("not_measurable", None)
    assert {tuple(note) for note in body["notes"]} == {("file", "line", "column", "message")}


def test_mistakes_for_a_program(tmp_path):
    with pytest.raises(ConfigError) as raised:
        plan(tmp_path, good() | {"elevation_m": "high"})
    body = check_mapping(None, [], raised.value.findings, [])
    assert (body["usable"], body["modules"]) == (False, [])
    assert body["findings"][0]["message"] == "found 'high'; right would be a number"

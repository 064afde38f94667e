"""What the hours of a module say, from the store to the terminal."""

from io import StringIO

import pytest
from rich.console import Console

from agent.assess.byhour.baseline import LEARNT_MODES
from agent.outlets.terminal.evidence import evidence_mapping, render_evidence
from agent.service.look.evidence import evidence
from tests.outlets.views import ALARM
from tests.outlets.views import shown as module_view
from tests.service.site import minute, plan, told, world

END = 26 * 60


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    folder = tmp_path_factory.mktemp("evidence")
    site = plan(folder, assess={"step_s": 30, "learning_hours": 6})
    with world(folder, site=site) as one:
        assert evidence(one.store, site, site.modules[0], minute(0)) is None
        one.receive(told(0, END, every_s=60, mode=lambda now: 1 if now % 240 > 20 else 0))
        one.work(END)
        yield evidence(one.store, site, site.modules[0], minute(END))


def shown(found):
    console = Console(width=80, record=True, file=StringIO())
    console.print(render_evidence(found))
    return console.export_text()


def test_what_ran_is_told_for_each_compressor(found):
    text = shown(found)
    assert "ran 91% of the time, 6 starts, at most 1 in an hour" in " ".join(text.split())


def test_the_alarms_by_the_hour_are_told_whether_they_stand_or_not(found):
    text = " ".join(shown(found).split())
    assert "oil-return-absent usual: oil-return rise 3.0 K" in text
    assert "likely causes" in text


def test_an_alarm_that_stands_now_is_told_first(found):
    console = Console(width=80, record=True, file=StringIO())
    console.print(render_evidence(found, module_view(alarms=[ALARM])))
    text = " ".join(console.export_text().split())
    assert "ALARM now superheat-low, priority high, since 25 Nov 11:30 UTC: return superheat 0.5 K" in text
    assert text.index("ALARM now") < text.index("last 24 hours")


def test_a_program_reads_the_same(found):
    body = evidence_mapping(found)
    assert body["module"] == "m1"
    assert body["by_the_hour"]["oil-return-excess"]["condition"] == "clear"
    assert body["last_24_hours"]["compressors"]["1"]["starts"] == 6
    assert body["causes"]["mode"] in LEARNT_MODES

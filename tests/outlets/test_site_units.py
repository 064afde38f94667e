"""What the people of a site read: degF, psi and Denver's clock, or bar and Berlin's; figures by hand.

Exact by definition: 1 degF = 5/9 K, 0 degC = 32 degF; 1 psi = 6.894757 kPa, 1 bar = 100 kPa (NIST SP 811).
"""

from dataclasses import replace
from io import StringIO
from zoneinfo import ZoneInfo

import pytest
from rich.console import Console

from agent.alarms import Facts, Life, Priority, Told, load
from agent.assess import DISCHARGE_SUPERHEAT, DISCHARGE_TEMPERATURE, SATURATED_CONDENSING
from agent.outlets import (
    Happened,
    Lives,
    StandingAlarm,
    assessment_rows,
    reading_rows,
    render,
    render_alarms,
    render_happened,
    render_heard,
    render_no_hours,
    render_rates,
    write_rows,
)
from agent.outlets.highside import highside_lines
from agent.outlets.shown import SI, Display
from agent.outlets.terminal.by_hand import NOTHING_BY_HAND
from tests.outlets.terminal.test_alarm_list import STANDS
from tests.outlets.terminal.test_listening import GAUGE, PIPE, site
from tests.outlets.views import ALARM, MINUTE_US, NOON_US, NOT_SETTLED, PATH, assessment, decided, shown

DENVER = Display("degF", "psi", ZoneInfo("America/Denver"))
BERLIN = Display("degC", "bar", ZoneInfo("Europe/Berlin"))
HOUR_US = 60 * MINUTE_US
TWICE_US = 1_793_518_200_000_000  # 2026-11-01 07:30 UTC: 01:30 in Denver, and an hour later once more


def seen(shown_as):
    out = StringIO()
    Console(file=out, width=150).print(shown_as)
    return " ".join(out.getvalue().split())


def view(lives=None, alarms=(ALARM,), **changes):
    return replace(shown(alarms=alarms), lives=lives or Lives(), **changes)


class TestStatus:
    def test_as_denver_reads_it(self):
        """6.0, 1.7 and 0.7 K are 10.8, 3.06 and 1.26 degF; 0.5 is 0.9. 12:01 UTC is 05:01 there."""
        found = seen(render([view()], NOON_US + MINUTE_US, display=DENVER))
        assert found.startswith("2025-11-25 05:01:00 -07:00 1 module, 1 alarm")
        assert "return superheat 10.8 degF -3.1 +1.3 suction_pipe: all vapour passes here" in found
        assert "since 25 Nov 04:30 -07:00: return superheat 0.9 degF at suction_pipe, limit 3.6 degF" in found
        assert " K" not in found and "UTC" not in found

    def test_as_berlin_reads_it(self):
        found = seen(render([view()], NOON_US + MINUTE_US, display=BERLIN))
        assert found.startswith("2025-11-25 13:01:00 +01:00")
        assert "return superheat 6.0 K -1.7 +0.7" in found and "since 25 Nov 12:30 +01:00" in found

    def test_what_does_not_settle_is_told_in_the_same_unit(self):
        """3.3 K and 0.7 K are 5.94 and 1.26 degF."""
        found = seen(render([shown(assessment(returned=NOT_SETTLED))], NOON_US, display=DENVER))
        assert "suction_pipe is swinging (now 5.9 degF ±1.3)" in found

    def test_one_line_for_a_low_terminal(self):
        found = seen(render([shown()], NOON_US, short=True, display=DENVER))
        assert "cooling return superheat 10.8 degF -3.1 +1.3" in found

    def test_a_note_on_the_instruments(self):
        """2.5 K are 4.5 degF, a limit of 2 K is 3.6."""
        note = "these instruments cannot prove dry suction near the limit of 2 K: downward it is 2.5 K"
        found = seen(render([replace(shown(), notes=(note,))], NOON_US, display=DENVER))
        assert "near the limit of 3.6 degF: downward it is 4.5 degF" in found


class TestAlarms:
    def test_the_list_and_what_people_typed(self):
        """0.5 K is 0.9 degF; a note is left as it was typed."""
        acknowledged = Life(
            STANDS._replace(acknowledged=True),
            NOON_US - HOUR_US,
            NOON_US - HOUR_US,
            acknowledged_by="A. Fitter",
            note="valve read 10 K off",
        )
        lives = Lives({ALARM.name: acknowledged}, at_us=NOON_US)
        found = seen(render_alarms([view(lives)], NOON_US, display=DENVER))
        assert found.startswith("25 Nov 05:00 -07:00")
        assert "acknowledged by A. Fitter (valve read 10 K off), since 25 Nov 04:00 -07:00" in found
        assert "return superheat 0.9 degF at suction_pipe, limit 3.6 degF" in found

    def test_what_happened(self):
        """0.5 K is 0.9 degF. Words and readings that somebody typed are left, and a time is the site's."""
        ours = "return superheat 0.5 K at suction_pipe"
        raised = Happened(PATH, "superheat-low", NOON_US - HOUR_US, NOON_US, "raised", ours, "", None, ours)
        noted = raised._replace(what="acknowledged", text=f"10 K off. {ours}", who="A. Fitter")
        withdrawn = raised._replace(
            alarm="module",
            what="withdraw",
            text="Reading 7 (12.0 degC, 2025-11-25 11:00 UTC). 10 K",
            found="",
        )
        found = seen(render_happened([raised, noted, withdrawn], DENVER))
        assert "superheat-low raised, of 25 Nov 04:00 -07:00 return superheat 0.9 degF at" in found
        assert "A. Fitter: 10 K off. return superheat 0.9 degF" in found
        assert "Reading 7 (12.0 degC, 2025-11-25 04:00 -07:00). 10 K" in found

    def test_the_worst_ten_minutes(self):
        told = load([Told(NOON_US, Priority.HIGH, "superheat-low")], NOON_US - HOUR_US, NOON_US)
        assert "from 25 Nov 05:00 -07:00" in seen(render_rates({"crew": told}, HOUR_US, DENVER))


class TestHistory:
    def table(self, rows, display):
        out = StringIO()
        write_rows(rows, "table", out, display)
        return out.getvalue()

    def test_the_heads_say_unit_and_zone(self):
        """6.0, 9.0 and 3.0 K are 10.8, 16.2 and 5.4 degF."""
        head, row = self.table(assessment_rows([assessment()], {}), DENVER).splitlines()[:2]
        assert " ".join(head.split()) == "America/Denver mode return degF U probe inlet degF rise degF alarms"
        assert " ".join(row.split()) == "11-25 05:00:00 -07:00 cooling 10.8 -3.1 +1.3 suction_pipe 16.2 5.4"

    def test_the_hour_that_comes_twice_is_told_apart(self):
        """Clocks in Denver went back on 1 November 2026 at 02:00 (IANA time zone database)."""
        both = [assessment(TWICE_US), assessment(TWICE_US + HOUR_US)]
        lines = self.table(assessment_rows(both, {}), DENVER).splitlines()
        assert [line[:21] for line in lines[1:3]] == ["11-01 01:30:00 -06:00", "11-01 01:30:00 -07:00"]

    def test_readings_stay_as_received_at_the_sites_time(self):
        lines = self.table(reading_rows([(NOON_US, "suction_pipe", 12.25, "Cel")]), BERLIN).splitlines()
        assert lines[0].split() == ["Europe/Berlin", "signal", "value", "unit"]
        assert lines[1].split() == ["2025-11-25", "13:00:00", "+01:00", "suction_pipe", "12.25", "Cel"]

    @pytest.mark.parametrize("form", ["csv", "json"])
    def test_programs_read_what_they_always_read(self, form):
        def written(display):
            out = StringIO()
            write_rows(assessment_rows([assessment()], {}), form, out, display)
            return out.getvalue()

        assert written(DENVER) == written(SI)


class TestListening:
    def test_values_steps_and_limits_of_error(self):
        """11.5 degC are 52.7 degF, 0.1 K is 0.18, 0.5 K 0.9; 944.325 kPa are 136.96 psi, 1 and 10 kPa 0.145
        and 1.45."""
        found = seen(render_heard(site(PIPE, GAUGE), display=DENVER))
        assert "suction_pipe 52.7 degF 52.7 degF 12 s 30/30 0.18/0.18 0.9 3" in found
        assert "843 kPa 137.0 psi 12 s 30/30 0.145/0.145 1.45 3" in found
        assert "is: the same in the units of the site" in found
        found = seen(render_heard(site(PIPE, GAUGE), display=BERLIN))
        assert "843 kPa 9.44 bar 12 s 30/30 0.01/0.01 0.1 3" in found


def test_the_first_whole_hour_of_a_module():
    found = seen(render_no_hours(PATH, shown(), NOTHING_BY_HAND, "", NOON_US, DENVER))
    assert "first whole hour: 05:00 -07:00" in found


def test_temperatures_beside_the_discharge():
    """59.9 and 36.6 degC are 139.82 and 97.88 degF; 23.3 and 1.9 K are 41.94 and 3.42."""
    of = assessment()
    more = {
        DISCHARGE_TEMPERATURE + "1": decided(59.9, 0.5, 0.5, "discharge_1"),
        DISCHARGE_SUPERHEAT + "1": decided(23.3, 1.9, 1.9, "discharge_1"),
        SATURATED_CONDENSING: decided(36.6, 0.4, 0.4),
    }
    lines = {name: (figure, why) for name, figure, why in highside_lines(replace(
        of, quantities={**of.quantities, **more}), DENVER)}  # fmt: skip
    assert lines["discharge 1"] == ("41.9 degF ±3.4", "139.8 degF; superheat at discharge_1")
    assert lines["saturation"][1].startswith("saturated suction 41.7 degF, condensing 97.9 degF")


def test_an_alarm_in_doubt_is_told_in_the_sites_units():
    doubt = StandingAlarm(
        "layout-doubt", Priority.LOW, NOON_US, Facts("compressor_inlet is 3.0 K warmer; or")
    )
    found = seen(render([view(alarms=(ALARM, doubt))], NOON_US, display=DENVER))
    assert "IN DOUBT (layout-doubt): compressor_inlet is 5.4 degF warmer" in found

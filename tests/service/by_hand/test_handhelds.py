"""Readings by hand beside stored telemetry: through a command, under the layout and mapping of their time."""

from io import StringIO

import orjson
import pytest
from rich.console import Console

from agent.assess.by_hand.handheld import Kind as Held
from agent.assess.by_hand.handheld import Verdict
from agent.outlets.terminal.by_hand import by_hand_lines, by_hand_mapping, render_by_hand
from agent.outlets.terminal.evidence import evidence_mapping, render_evidence
from agent.service.by_hand.handhelds import measured, of_newest_layout
from agent.service.by_hand.measuring import MeasureError, Typed, doubted, taken
from agent.service.look.evidence import evidence
from agent.service.work.order import Kind
from tests.service.site import GRACE_US, SIGNALS, configuration, minute, plan
from tests.service.work.test_alarming import dry, make

__all__ = ["make"]
# The site's suction_pipe reads 11.3 to 11.5 degC, compressor_inlet 3 K more.
INLET = "oil_return"


@pytest.fixture
def one(make):
    made = make()
    dry(made, 0, 130)
    return made


def typed(kind, place, value, at, side=None, accuracy=None):
    return Typed(Held(kind), place, side, value, accuracy, minute(at))


def say(one, kind, place, value, at=100, side=None, accuracy=None, now=130, **more):
    body = taken(one.plan, one.plan.modules[0], typed(kind, place, value, at, side, accuracy))
    return one.say(now, Kind.MEASURE, None, more={"handheld": body}, **more)


def pair(one, ahead="11.4 degC", after="14.4 degC", at=100):
    say(one, "inlet", INLET, ahead, at, "ahead")
    return say(one, "inlet", INLET, after, at + 4, "after")


def seen(one):
    return measured(one.store, one.plan, one.plan.modules[0])


class TestTaken:
    def figures(self, kind, place, value, accuracy=None, **changes):
        site = plan(self.folder, elevation_m=1500, **changes)
        body = taken(site, site.modules[0], typed(kind, place, value, 100, accuracy=accuracy))
        return body["value"], body["half_width"]

    @pytest.fixture(autouse=True)
    def _folder(self, tmp_path):
        self.folder = tmp_path

    def test_a_gauge_counts_from_the_air_at_the_site(self):
        """US Standard Atmosphere 1976: 84.556 kPa at 1500 m."""
        value, half_width = self.figures("transducer", "suction_pressure", "8.2 bar gauge")
        assert value == pytest.approx(820e3 + 84.556e3, abs=1)
        assert half_width == pytest.approx(35e3)

    def test_absolute_is_taken_as_it_is_and_accuracy_is_in_the_same_unit(self):
        found = self.figures("transducer", "suction_pressure", "820 kPa absolute", 12.0)
        assert found == pytest.approx((820e3, 12e3))
        psi = self.figures("transducer", "suction_pressure", "119 psi absolute", 1.0)
        assert psi == pytest.approx((820.48e3, 6894.76), rel=1e-5)  # NIST SP 811: 1 psi = 6.894757 kPa

    def test_temperatures(self):
        assert self.figures("probe", "suction_pipe", "12,5 °C") == (12.5, 0.5)
        value, half_width = self.figures("probe", "suction_pipe", "53.6 degF", 0.9)
        assert (value, half_width) == pytest.approx((12.0, 0.5))
        assert self.figures("probe", "suction_pipe", "285.15 K", 0.5) == pytest.approx((12.0, 0.5))

    @pytest.mark.parametrize(
        ("kind", "place", "value", "said"),
        [
            (
                "transducer",
                "suction_pressure",
                "8.2 bar",
                "does not say what it is counted from; right would be",
            ),
            ("transducer", "suction_pressure", "12 degC absolute", "is no unit of pressure"),
            ("transducer", "suction_pipe", "8 bar gauge", "has no transducer 'suction_pipe'"),
            ("transducer", "suction_pressure", "8.2e9 bar gauge", "between 10 kPa and 6 MPa absolute"),
            ("probe", "suction_pip", "12 degC", "has no probe 'suction_pip'; did you mean 'suction_pipe'?"),
            ("probe", "suction_pressure", "12 degC", "has no probe 'suction_pressure'"),
            ("probe", "suction_pipe", "12", "states no unit; right would be a number and one of degC"),
            ("probe", "suction_pipe", "warm", "is no number"),
            ("probe", "suction_pipe", "12 bar", "'bar' is no unit of temperature"),
            ("probe", "suction_pipe", "285 degC", "between -60 and 150 degC"),
            ("inlet", "steam", "12 degC", "has no inlet 'steam'; there are hot_gas_bypass, oil_return"),
        ],
    )
    def test_what_cannot_be_is_said_with_what_would_be_right(self, kind, place, value, said):
        with pytest.raises(MeasureError, match=said.replace("?", r"\?")):
            self.figures(kind, place, value)

    @pytest.mark.parametrize("value", ["119 psig", "119 psi gauge", "119 psi(g)", "119 psi g", "119 PSIG"])
    def test_gauge_in_letters(self, value):
        """1 psi = 6.894757 kPa (NIST SP 811); 84.556 kPa at 1500 m (US Standard Atmosphere 1976)."""
        if value.endswith("PSIG"):
            with pytest.raises(MeasureError, match="'PSI' is no unit of pressure; right would be .* psig"):
                self.figures("transducer", "suction_pressure", value)
        else:
            found, _ = self.figures("transducer", "suction_pressure", value)
            assert found == pytest.approx(119 * 6894.757 + 84.556e3, abs=2)

    @pytest.mark.parametrize("value", ["820 kPa(a)", "820 kPa abs", "820 kPaa", "8.2 bar (abs)", "8.2 bara"])
    def test_absolute_in_letters(self, value):
        assert self.figures("transducer", "suction_pressure", value)[0] == pytest.approx(820e3)

    def test_the_letter_of_a_unit_is_no_reference(self):
        for value in ("820 kPa", "820000 Pa"):
            with pytest.raises(MeasureError, match="does not say what it is counted from"):
                self.figures("transducer", "suction_pressure", value)

    def test_a_plain_letter_for_the_degree(self):
        assert self.figures("probe", "suction_pipe", "14.2 C")[0] == pytest.approx(14.2)
        with pytest.raises(MeasureError, match="degC, Cel, K, degF, °C, C, F"):
            self.figures("probe", "suction_pipe", "14.2")

    def test_the_right_option_is_given(self):
        with pytest.raises(MeasureError, match="is a transducer: give it with --transducer suction_pressure"):
            self.figures("probe", "suction_pressure", "12 degC")
        with pytest.raises(MeasureError, match="is an inlet: give it with --inlet oil_return --side ahead"):
            self.figures("probe", "oil_return", "12 degC")

    def test_where_the_piping_is_not_described_the_nearest_layout_comes_first(self):
        module = {"layout": "unknown", "signal_set": "polled"}
        systems = {"one": {"refrigerant": "R-410A", "modules": {"m1": module}}}
        with pytest.raises(MeasureError, match="not described.*write the nearest layout first"):
            self.figures("inlet", "oil_return", "12 degC", systems=systems)

    def test_a_gauge_takes_the_sites_height(self, tmp_path):
        site = plan(tmp_path)
        with pytest.raises(MeasureError, match="state elevation_m beside site"):
            taken(site, site.modules[0], typed("transducer", "suction_pressure", "8.2 bar gauge", 100))


class TestKept:
    def test_it_is_kept_with_its_line_and_its_outcome_compares(self, one):
        done = say(one, "probe", "compressor_inlet", "12 degC", why="bare clamp")
        assert done.outcome == (
            "compressor_inlet at hill-house/one/m1: 12.0 degC by hand, 14.4 degC by telemetry: it is what "
            "suction_pipe reads (11.4 degC): perhaps the two signals are exchanged; 2.4 K more than by hand, "
            "beyond the ±0.8 K that both instruments explain."
        )
        (kept,) = one.store.handhelds(1, 0, 2**62)
        assert kept[:8] == (
            *(minute(100), minute(130) + GRACE_US, "A. Fitter", "probe", "compressor_inlet", None, 12.0, 0.5),
        )
        (line,) = one.lines("module")
        assert (line.transition, line.event_us) == ("measure", minute(100))
        assert orjson.loads(line.body)["why"] == done.outcome
        (found,) = seen(one).readings
        assert (found.found.verdict, found.note, found.given) == (Verdict.DIFFERS, "bare clamp", "12 degC")

    def test_the_second_clamp_tells_the_sides(self, one):
        done = pair(one)
        assert "compressor_inlet sits after oil_return" in done.outcome
        assert {each.probe: str(each.side) for each in seen(one).sides} == {
            "suction_pipe": "ahead",
            "compressor_inlet": "after",
        }
        assert not seen(one).has_finding

    def test_bare_clamps_do_not_deny_a_layout(self, one):
        """Both 3 K warm: no other probe vouches for them."""
        pair(one, ahead="14.4 degC", after="17.6 degC")
        (found,) = [each for each in seen(one).sides if each.probe == "compressor_inlet"]
        assert not found.contradicts_layout and "both clamps may read warm" in found.text
        assert not seen(one).has_finding

    def test_a_layout_that_it_denies_is_a_finding(self, make):
        one = make()
        dry(one, 0, 130, rise_k=0.0)  # the second probe reads as the first, whose clamp vouches
        pair(one)
        (denied,) = [each for each in seen(one).sides if each.contradicts_layout]
        assert denied.probe == "compressor_inlet" and "this layout is denied" in denied.text
        assert seen(one).has_finding

    def test_a_time_in_the_future_or_without_telemetry(self, one):
        body = taken(one.plan, one.plan.modules[0], typed("probe", "suction_pipe", "12 degC", 200))
        done = one.say(130, Kind.MEASURE, None, more={"handheld": body})
        assert done.refused and done.outcome == "Nothing can have been measured in the future."
        done = say(one, "probe", "suction_pipe", "12 degC", at=-60)
        assert done.outcome.endswith(
            "cannot tell, suction_pipe had no reading then that was at most 120 s old."
        )

    @pytest.mark.parametrize(
        ("body", "said"),
        [
            ({}, "not understood"),
            ({"handheld": {"at_us": 5}}, "not understood"),
            ({"handheld": None}, "not understood"),
        ],
    )
    def test_what_another_version_gave_is_refused_and_nothing_kept(self, one, body, said):
        done = one.say(130, Kind.MEASURE, None, more=body)
        assert done.refused and said in done.outcome
        assert one.store.handhelds(1, 0, 2**62) == [] == one.store.waiting_commands()

    def test_a_place_that_the_layout_no_longer_has_is_refused(self, one):
        body = taken(one.plan, one.plan.modules[0], typed("probe", "suction_pipe", "12 degC", 100))
        done = one.say(130, Kind.MEASURE, None, more={"handheld": {**body, "place": "elbow"}})
        assert (
            done.refused and "It is not kept: layout two-pipe-twin-late has no probe 'elbow'" in done.outcome
        )


class TestAnotherUnit:
    def test_what_was_measured_at_the_one_before_is_shown_and_not_used(self, one):
        say(one, "probe", "suction_pipe", "9 degC")
        pair(one)
        assert seen(one).has_finding
        one.say(130, Kind.REPLACED, None, why="burnt out", more={"at_us": minute(110)})
        found = seen(one)
        assert len(found.readings) == 3 and all(each.of_unit_before for each in found.readings)
        assert found.used == () and not found.has_finding and list(by_hand_lines(found, "one/m1")) == []
        done = say(one, "probe", "suction_pipe", "9 degC", at=105)
        assert done.refused
        assert done.outcome == "Another unit stood there then: it was replaced at 2025-11-25 09:50 UTC."
        assert not say(one, "probe", "suction_pipe", "9 degC", at=110).refused
        assert len(seen(one).used) == 1


class TestWithdrawn:
    def withdraw(self, one, number, **more):
        return one.say(131, Kind.WITHDRAW, None, more={"handheld_id": number}, **more)

    def test_it_stays_in_the_table_and_the_journal_and_is_not_used(self, one):
        say(one, "probe", "suction_pipe", "9 degC")
        assert seen(one).has_finding
        done = self.withdraw(one, 1, why="misread")
        assert not done.refused
        assert done.outcome == (
            "Reading 1 of hill-house/one/m1 (9 degC, suction_pipe, 2025-11-25 09:40 UTC) is withdrawn by "
            "A. Fitter: it stays in the list, and is not used."
        )
        (kept,) = one.store.handhelds(1, 0, 2**62)
        assert (kept.id, kept.value) == (1, 9.0)
        assert [line.transition for line in one.lines("module")] == ["measure", "withdraw"]
        assert "misread" in one.lines("module")[-1].body
        found = seen(one)
        assert found.used == () and not found.has_finding and list(by_hand_lines(found, "one/m1")) == []
        assert "withdrawn by A. Fitter" in text(render_by_hand(one.plan.modules[0].path, found))
        assert by_hand_mapping(found)["readings"][0]["withdrawn"]["why"] == "misread"

    def test_what_followed_from_it_no_longer_follows(self, one):
        pair(one)
        assert seen(one).sides
        self.withdraw(one, 2, why="other inlet")
        assert seen(one).concluded == ()

    def test_once_and_only_what_there_is(self, one):
        say(one, "probe", "suction_pipe", "9 degC")
        assert self.withdraw(one, 7, why="x").refused
        assert not self.withdraw(one, 1, why="x").refused
        done = self.withdraw(one, 1, why="x")
        assert done.refused and "withdrawn already, by A. Fitter at 2025-11-25" in done.outcome


class TestFarFromTelemetry:
    @pytest.mark.parametrize(
        ("kind", "place", "value", "side", "asked"),
        [
            ("probe", "suction_pipe", "120 degC", None, True),  # telemetry 11.4
            ("probe", "suction_pipe", "50 degC", None, False),
            ("inlet", INLET, "120 degC", "after", True),
            ("inlet", INLET, "30 degC", "after", False),
            ("transducer", "suction_pressure", "4000 kPa absolute", None, True),
            ("transducer", "suction_pressure", "700 kPa absolute", None, False),
        ],
    )
    def test_it_is_asked(self, one, kind, place, value, side, asked):
        body = taken(one.plan, one.plan.modules[0], typed(kind, place, value, 100, side))
        question = doubted(one.store, one.plan, one.plan.modules[0], body, "A. Fitter")
        assert bool(question) is asked
        assert not asked or question.endswith(
            "Nothing is kept; if it was read so, say it once more with --sure."
        )


class TestUnderWhatHeld:
    """A reading is compared under the layout of its time, and as its points are mapped now."""

    def two_layouts(self, tmp_path):
        module = {
            "layout": [
                {"layout": "two-pipe-twin-late"},
                {
                    "layout": "two-pipe-twin-unproven",
                    "valid_from": "2025-11-25T09:30Z",
                    "by": "A",
                    "why": "seen on site",
                    "signal_set": "moved",
                },
            ],
            "signal_set": "polled",
        }
        moved = {**SIGNALS, "second_suction": {**SIGNALS["compressor_inlet"], "point": "compressor_inlet"}}
        del moved["compressor_inlet"]
        polled = configuration()["signal_sets"]["polled"]
        return plan(
            tmp_path,
            systems={"one": {"refrigerant": "R-410A", "modules": {"m1": module}}},
            signal_sets={"polled": polled, "moved": {**polled, "signals": moved}},
            alarms={"shadow_days": 0},
        )

    def test_each_has_the_names_of_its_time(self, one, tmp_path):
        assert one.store.register_mapping(one.plan.mapping, 0) == 1
        say(one, "probe", "compressor_inlet", "14.4 degC", at=60)
        one.plan = self.two_layouts(tmp_path)
        one.restart()
        one.work(130)
        done = say(one, "probe", "second_suction", "14.4 degC", at=100)
        assert "they agree" in done.outcome
        with pytest.raises(MeasureError, match="two-pipe-twin-unproven has no probe 'compressor_inlet'"):
            say(one, "probe", "compressor_inlet", "14.4 degC", at=100)
        found = seen(one)
        assert [(each.place, str(each.found.verdict)) for each in found.readings] == [
            ("compressor_inlet", "agrees"),
            ("second_suction", "agrees"),
        ]
        newest = of_newest_layout(one.plan.modules[0], found)
        assert [each.place for each in newest.readings] == ["second_suction"]


class TestShown:
    def test_in_the_evidence(self, one):
        say(one, "probe", "suction_pipe", "9 degC", why="bare clamp")
        pair(one)
        found = evidence(one.store, one.plan, one.plan.modules[0], minute(130))
        shown = text(render_evidence(found))
        assert "3 readings, 1 of them differ: `dewline measure one/m1 --list`" in shown
        assert "compressor_inlet sits after oil_return" in shown
        body = orjson.loads(orjson.dumps(evidence_mapping(found)["by_hand"]))
        assert body == orjson.loads(orjson.dumps(by_hand_mapping(seen(one))))
        assert [each["verdict"] for each in body["readings"]] == ["differs", "agrees", "agrees"]
        assert body["readings"][0]["note"] == "bare clamp"
        assert {each["probe"]: each["side"] for each in body["concluded"]} == {
            "suction_pipe": "ahead",
            "compressor_inlet": "after",
        }

    def test_as_a_list(self, one):
        path = one.plan.modules[0].path
        assert "nothing measured by hand" in text(render_by_hand(path, seen(one)))
        pair(one)
        shown = text(render_by_hand(path, seen(one)))
        assert "by hand 1 25 Nov 09:40 UTC ahead of oil_return confirms the layout by A. Fitter" in shown
        assert "given as 11.4 degC, right within ±0.5 K (nobody said; common practice)" in shown
        assert "What follows from several readings 25 Nov 09:44 UTC: agrees: ahead of oil_return" in shown


def text(renderable):
    console = Console(width=300, file=StringIO(), record=True)
    console.print(renderable)
    return " ".join(console.export_text().split())

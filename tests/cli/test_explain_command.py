"""`dewline explain` as it is typed: what a name means, what is printed and written, and the exit code."""

import json
import shutil
from xml.etree import ElementTree as Xml

import pytest
from click.testing import CliRunner

from agent.assess.byhour.hours import HOUR_US
from agent.cli import main
from agent.service import now_us
from agent.store import HourRow, Hours, Store
from tests.assess import piped
from tests.settings.site import LAYOUTS, changed, good, write

MODULES = ("systems", "north", "modules")
MODULE = {"layout": "two-pipe-twin-late", "signal_set": "polled"}


@pytest.fixture
def run(tmp_path, monkeypatch):
    """The command in a folder with the shipped layouts in config/layouts."""
    shutil.copytree(LAYOUTS, tmp_path / "config" / "layouts")
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("DEWLINE_CONFIG", raising=False)

    def command(*words, **more):
        return CliRunner().invoke(main, ["explain", *map(str, words)], **more)

    return command


@pytest.fixture
def site(tmp_path):
    return write(tmp_path, good())


def first_line(result):
    return result.stdout.splitlines()[0]


class TestNames:
    def test_a_layout_of_the_folder_here(self, run):
        result = run("two-pipe-single-early")
        assert (result.exit_code, first_line(result)) == (0, "two-pipe-single-early")
        assert "a probe between oil_return and hot_gas_bypass" in result.stdout

    def test_a_layout_of_the_configured_folder(self, run, site):
        result = run("two-pipe-single-early", "-c", site)
        assert (result.exit_code, first_line(result)) == (0, "two-pipe-single-early")

    @pytest.mark.parametrize("name", ["n1", "north/n1", "hill-house/north/n1"])
    def test_a_module(self, run, site, name):
        result = run(name, "-c", site)
        assert result.exit_code == 0
        assert first_line(result) == "hill-house/north/n1 on layout two-pipe-twin-late"
        assert "Uncertainty of superheat" in result.stdout

    def test_the_configuration_may_stand_in_the_environment(self, run, site):
        assert run("n1", env={"DEWLINE_CONFIG": str(site)}).exit_code == 0

    def test_a_layout_file(self, run, tmp_path):
        file = tmp_path / "config" / "layouts" / "two-pipe-twin-late.yaml"
        result = run(file)
        assert (result.exit_code, first_line(result)) == (0, "two-pipe-twin-late")

    def test_a_name_that_is_both_is_the_module_and_says_so(self, run, tmp_path):
        data = changed(MODULES, {"two-pipe-single-early": MODULE})
        result = run("two-pipe-single-early", "-c", write(tmp_path, data))
        assert result.exit_code == 0
        assert first_line(result) == "hill-house/north/two-pipe-single-early on layout two-pipe-twin-late"
        words = "two-pipe-single-early is also the name of a layout; the module is shown"
        assert words in " ".join(result.stdout.split())

    def test_a_layout_whose_name_several_modules_share(self, run, tmp_path):
        data = changed(
            ("systems", "south"), {"refrigerant": "R-32", "modules": {"two-pipe-twin-late": MODULE}}
        )
        data["systems"]["north"]["modules"]["two-pipe-twin-late"] = MODULE
        result = run("two-pipe-twin-late", "-c", write(tmp_path, data))
        assert (result.exit_code, first_line(result)) == (0, "two-pipe-twin-late")


class TestUnknownLayout:
    def test_it_explains_itself(self, run):
        result = run("unknown")
        words = " ".join(result.stdout.split())
        assert (result.exit_code, first_line(result)) == (0, "unknown")
        assert "Nobody has described the piping of this module. Every reading is kept" in words
        assert "Right would be a layout: follow the pipes and describe them." in words

    def test_a_module_on_it(self, run, tmp_path):
        result = run("n1", "-c", write(tmp_path, changed(MODULES, {"n1": MODULE | {"layout": "unknown"}})))
        assert (result.exit_code, first_line(result)) == (0, "hill-house/north/n1 on layout unknown")
        assert "LIMITS" in result.stdout and "superheat-low" in result.stdout
        assert "no mode" not in result.stdout
        assert "No suction probe of the layout gives readings" in result.stdout


def test_a_coil_whose_valve_no_signal_tells_of(run, tmp_path):
    data = changed(MODULES, {"n1": MODULE | {"layout": "three-pipe-twin-late"}})
    signals = data["signal_sets"]["polled"]["signals"]
    signals["bleed_valve"] = signals.pop("bypass_valve")
    words = " ".join(run("n1", "-c", write(tmp_path, data)).stdout.split())
    assert "No signal tells of coil_valve: what outdoor_coil does is never known." in words
    assert "outdoor_coil evaporating where the mode leaves it open" in words


class TestMistakes:
    def test_neither_gets_what_was_meant(self, run, site):
        result = run("two-pipe-twin-lat")
        assert result.exit_code == 2
        assert "no layout 'two-pipe-twin-lat' in config/layouts" in result.stderr
        assert "did you mean 'two-pipe-twin-late'?" in result.stderr
        assert "did you mean 'n1'?" in run("n11", "-c", site).stderr

    def test_neither_and_nothing_near_gets_the_known_names(self, run, site):
        result = run("quite-something-else", "-c", site)
        assert result.exit_code == 2
        for name in ("no module and no layout", "hill-house/north/n1", "two-pipe-single-early"):
            assert name in result.stderr

    def test_no_folder_of_layouts(self, run, tmp_path):
        shutil.rmtree(tmp_path / "config")
        result = run("two-pipe-twin-late")
        assert result.exit_code == 2
        assert "there is no layout file" in result.stderr

    def test_a_name_that_several_modules_end_in(self, run, tmp_path):
        data = changed(("systems", "south"), {"refrigerant": "R-32", "modules": {"n1": MODULE}})
        result = run("n1", "-c", write(tmp_path, data))
        assert result.exit_code == 2
        assert "module 'n1' could be several" in result.stderr

    def test_a_layout_file_with_a_mistake_names_the_place(self, run, tmp_path):
        file = tmp_path / "config" / "layouts" / "two-pipe-twin-late.yaml"
        file.write_text(file.read_text(encoding="utf-8").replace("effect: warms", "effect: heats", 1))
        for name in (file, "two-pipe-twin-late"):
            result = run(name)
            assert result.exit_code == 2
            assert "two-pipe-twin-late.yaml:" in result.stderr and "'heats'" in result.stderr

    def test_a_file_that_is_not_there(self, run):
        result = run("missing.yaml")
        assert (result.exit_code, "missing.yaml:1:1: no such file" in result.stderr) == (2, True)

    def test_a_configuration_with_a_mistake(self, run, tmp_path):
        result = run("n1", "-c", write(tmp_path, changed(("systems", "north", "refrigerant"), "R-0")))
        assert (result.exit_code, "no refrigerant 'R-0'" in result.stderr) == (2, True)

    def test_a_mode_that_is_none_or_not_described(self, run):
        assert run("two-pipe-twin-late", "--mode", "defrost").exit_code == 2
        result = run("two-pipe-twin-late", "--mode", "simultaneous")
        assert result.exit_code == 2
        assert "does not describe simultaneous; it describes cooling, heating" in result.stderr

    def test_an_svg_that_cannot_be_written(self, run, tmp_path):
        result = run("two-pipe-twin-late", "--svg", tmp_path / "nowhere" / "x.svg")
        assert (result.exit_code, "cannot be written" in result.stderr) == (2, True)


class TestForms:
    def test_one_mode(self, run):
        result = run("two-pipe-twin-late", "--mode", "heating")
        assert "heating" in result.stdout and "cooling" not in result.stdout

    def test_at_most_80_columns_whatever_the_terminal(self, run, site):
        for columns in ("200", "80"):
            result = run("n1", "-c", site, env={"COLUMNS": columns})
            assert max(map(len, result.stdout.splitlines())) <= 80

    def test_ascii_asked_for_or_because_the_terminal_can_no_more(self, run):
        drawn = run("two-pipe-twin-late").stdout
        assert "├" in drawn or "●──┘" in drawn
        asked = run("two-pipe-twin-late", "--ascii").stdout
        assert asked.isascii() and "o--'" in asked
        by_itself = CliRunner(charset="ascii").invoke(main, ["explain", "two-pipe-twin-late"])
        assert by_itself.exit_code == 0 and by_itself.stdout == asked

    def test_svg(self, run, tmp_path):
        file = tmp_path / "x.svg"
        assert run("two-pipe-twin-late", "--svg", file).exit_code == 0
        root = Xml.parse(file).getroot()
        assert root.find("{http://www.w3.org/2000/svg}title").text == "two-pipe-twin-late"

    def test_json(self, run, site):
        body = json.loads(run("n1", "-c", site, "--json", "--mode", "cooling").stdout)
        assert (body["module"], body["modes"]) == ("hill-house/north/n1", ["cooling"])


class TestEvidence:
    """How well each layout of the folder explains what the store has of a module."""

    def kept(self, tmp_path, hours):
        path = ("hill-house", "north", "n1")
        with Store.open(f"sqlite:///{tmp_path / 'hill-house.db'}") as store:
            module_id = store.register_modules([path])[path]
            revision = store.open_revision(module_id, "{}", "for the test", 1)
            rows = [HourRow(hour.from_us, hour.settled_mode, hour.dump()) for hour in hours]
            whole = Hours(rows[0].from_us, rows[-1].from_us, rows)
            store.finish(module_id, revision.id, [], whole_hours=[whole])

    def recent(self, pipes):
        return piped.hours(pipes, first=now_us() // HOUR_US - 14, running=("1", "2"))

    def test_a_layout_that_the_readings_fit(self, run, site, tmp_path):
        pipes = {"suction_pipe": 11.0, "compressor_inlet": 13.5}
        self.kept(tmp_path, piped.night_and_day(pipes, first=now_us() // HOUR_US - 26))
        result = run("n1", "-c", site, "--evidence")
        assert (result.exit_code, first_line(result)) == (
            0,
            "hill-house/north/n1: the readings fit the configured layout",
        )

    def test_one_in_doubt_is_a_finding(self, run, site, tmp_path):
        self.kept(tmp_path, self.recent({"suction_pipe": 13.5, "compressor_inlet": 11.0}))
        result = run("n1", "-c", site, "--evidence", "--json")
        body = json.loads(result.stdout)
        assert result.exit_code == 1 and body["conclusion"] == "doubted"
        assert "exchanged" in body["text"] and "suction_pipe reads warm" in body["text"]
        assert body["cautions"]

    def test_without_hours_it_says_so(self, run, site, tmp_path):
        Store.open(f"sqlite:///{tmp_path / 'hill-house.db'}").close()
        result = run("n1", "-c", site, "--evidence")
        assert result.exit_code == 0 and "no whole hour yet; first whole hour:" in result.stdout

    def test_it_is_of_a_module(self, run, site):
        result = run("two-pipe-twin-late", "-c", site, "--evidence")
        assert result.exit_code == 2 and "--evidence is of a module" in result.stderr

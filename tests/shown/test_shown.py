"""Every command that a text shows does what it is said to, and every piece of configuration can be used."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import pytest

from agent.alarms import CATALOGUE
from agent.settings import load
from agent.settings.model import ModuleSettings, Settings, SignalSetSettings
from agent.settings.source import Source
from tests.mosquitto import needs_mosquitto
from tests.service.processes import eventually
from tests.service.site import ROOT, configuration, write
from tests.shown import rules, texts
from tests.shown.texts import PAGES, Shown
from tests.shown.world import LOADED_S, World, world

README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = texts.commands()
HERE = [each for each in COMMANDS if rules.rule(each.text) and not rules.not_run(each.text)]
ELSEWHERE = [each for each in COMMANDS if rules.not_run(each.text)]
LONG = [each for each in COMMANDS if each not in HERE and each not in ELSEWHERE]


@pytest.fixture(scope="module")
def here(tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    with world(tmp_path_factory.mktemp("shown")) as made:
        yield made


def named(shown: list[Shown]) -> Callable[..., object]:
    return pytest.mark.parametrize("shown", shown, ids=[f"{each.where} {each.text}" for each in shown])


@needs_mosquitto
def test_what_the_readme_shows_of_a_module_is_what_is_shown(here):
    """Line by line what each is of; the figures are those of another day."""
    (shown,) = (each for each in texts.blocks("text") if each.where.startswith("README.md"))
    assert labels(shown.text)[0] == "north/n2", "the module that has liquid coming back"

    def is_so() -> bool:
        now = labels(here.type("dewline status n2").said)
        return [label for label in now if label != "note"] == labels(shown.text)

    eventually(is_so, "a moment without a transient mode", LOADED_S)


def labels(text):
    """The module, and what each line of it is of."""
    lines = text[text.index("north/") :].splitlines()
    return [lines[0].split()[0], *(found for line in lines[1:] if (found := line[2:20].strip()))]


@needs_mosquitto
@named(HERE)
def test_a_command_that_is_shown_runs(here, shown):
    rule = rules.rule(shown.text)
    assert rule is not None
    rule(here, shown)


@named(ELSEWHERE)
def test_of_a_command_that_cannot_run_here_all_that_it_names_is_there(shown):
    rules.hold(shown)


@named(LONG)
def test_a_command_that_takes_long_takes_what_it_is_given(shown):
    assert rules.parse(shown.text), f"{shown.where}: no rule of tests/shown/rules.py knows this command"


@pytest.mark.parametrize("pattern", [*rules.RULES, *rules.NOT_RUN])
def test_no_rule_is_left_over(pattern):
    assert any(re.fullmatch(pattern, each.text) for each in COMMANDS)


def test_every_command_of_the_product_is_shown_with_what_it_takes():
    shown = {each.text.split()[1] for each in HERE if each.text.startswith("dewline ")}
    assert shown >= set(rules.main.commands)


def test_every_block_says_whether_it_is_typed_configured_or_looked_at():
    assert texts.unnamed_blocks() == []


@pytest.mark.parametrize("shown", texts.blocks("yaml"), ids=lambda each: each.where)
def test_a_piece_of_configuration_can_be_used(tmp_path, shown):
    piece = tmp_path / "piece.yaml"
    piece.write_text(shown.text, encoding="utf-8")
    found = Source(piece).data
    keys = set(found)
    if "suction_side" in keys:
        layout = tmp_path / f"{found['layout']}.yaml"
        layout.write_text(shown.text, encoding="utf-8")
        module = {"layout": found["layout"], "signal_set": "polled"}
        polled = {"every_s": 30, "max_age_s": 120, "signals": signals_of(found)}
        load(
            write(
                tmp_path,
                configuration(
                    layouts=str(tmp_path),
                    signal_sets={"polled": polled},
                    systems={"one": {"refrigerant": "R-32", "modules": {"m1": module}}},
                ),
            )
        )
    elif keys <= set(Settings.model_fields):
        load(write(tmp_path, configuration(**found)))
    elif keys <= set(CATALOGUE):
        load(write(tmp_path, configuration(limits=found)))
    elif keys <= set(SignalSetSettings.model_fields):
        SignalSetSettings.model_validate({"every_s": 30, "max_age_s": 120} | found)
    else:
        for module in found.values():
            ModuleSettings.model_validate(module)


def signals_of(layout):
    """What it takes to use a layout, so that what is held is the layout."""
    measured = {"unit": "degC", "accuracy": 0.5, "step": 0.1}
    pressure = {"unit": "kPa", "reference": "absolute", "accuracy": 10}
    places = [
        place
        for side in ("suction_side", "discharge_side", "liquid_side")
        for path in layout[side]
        for place in path
    ]
    pairs = [pair for place in places for pair in place.items()]
    probes = {name: measured for kind, name in pairs if kind == "probe"}
    transducers = {name: pressure for kind, name in pairs if kind == "transducer"}
    valves = {
        inlet["valve"]: {"values": {0: "shut", 1: "open"}}
        for inlet in layout["inlets"].values()
        if "valve" in inlet
    }
    return {"mode": {"values": {0: "off", 1: "cooling", 2: "heating"}}, **probes, **transducers, **valves}


@pytest.mark.parametrize("page", PAGES, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_link_leads_somewhere(page):
    for link in texts.links(page):
        file, _, heading = link.partition("#")
        if "://" in file:
            continue
        target = page if not file else (page.parent / file).resolve()
        assert target.exists(), f"{link} leads nowhere"
        assert not heading or heading in texts.headings(target), f"{link}: no such heading"


def test_every_layout_that_is_shipped_has_its_line():
    text = (ROOT / "config" / "README.md").read_text(encoding="utf-8")
    shipped = [path.stem for path in (ROOT / "config" / "layouts").glob("*.yaml")]
    assert [name for name in shipped if f"`{name}`" not in text] == []


def test_every_alarm_has_its_word_in_the_readme():
    assert [name for name in CATALOGUE if f"`{name}`" not in README] == []


def test_every_file_that_the_house_names_is_in_its_room():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    house = text[text.index("### Where in a room") : text.index("## What holds everywhere")]
    _, *rooms = re.split(r"^\*\*`(agent/\w+)/`\*\*", house, flags=re.MULTILINE)
    for room, files in zip(rooms[::2], rooms[1::2], strict=True):
        for name in re.findall(r"`([\w*]+\.py)`", files):
            assert list((ROOT / room).rglob(name)), f"there is no {name} in {room}"

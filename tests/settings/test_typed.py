"""A mistake of keys and types does not hide other mistakes, and draws no others after it."""

import pytest
from pydantic import ValidationError

from agent.settings import ConfigError
from agent.settings.model import Settings
from agent.settings.ranges import Expansion
from agent.settings.sentences import wrong
from agent.settings.source import Source
from tests.settings.site import changed, good, plan, write
from tests.settings.test_any_input import ODD, paths

# One more mistake of meaning in each of these places, which any mistake elsewhere leaves standing.
ELSEWHERE = {
    "south": {
        "refrigerant": "R-22",
        "modules": {"s1": {"layout": "nowhere", "signal_set": "other", "topic": "plant/s1"}},
    }
}
UNKNOWN = {("layouts",): 1, ("signal_sets",): 0}  # and what is said all the same
SAID = ("no layout file", "no signal set 'other'", "no refrigerant 'R-22'")


def of_types(folder, data):
    """What pydantic alone finds."""
    try:
        Settings.model_validate(Expansion(Source(write(folder, data)).data).data)
    except ValidationError as error:
        return {wrong(dict(each)).message for each in error.errors(include_url=False)}
    return set()


def findings(folder, data):
    try:
        plan(folder, data)
    except ConfigError as error:
        return [finding.message for finding in error.findings]
    return []


@pytest.mark.parametrize("path", list(paths(good())), ids=lambda path: ".".join(map(str, path)))
def test_a_mistake_of_types_is_alone_and_hides_none_elsewhere(tmp_path, path):
    for odd in (value for value in ODD if not (isinstance(value, dict) and value)):
        data = changed(path, odd)
        alone = of_types(tmp_path, data)
        if not alone:
            continue
        assert set(findings(tmp_path, data)) == alone, odd
        if path != ("systems",):
            data["systems"] = data["systems"] | ELSEWHERE
            together = findings(tmp_path, data)
            for sentence in SAID if path not in UNKNOWN else (SAID[UNKNOWN[path]],):
                assert any(message.startswith(sentence) for message in together), (odd, together)


def test_a_missing_key_draws_no_others(tmp_path):
    for path in paths(good()):
        data = changed(path, None)
        here = data
        for key in path[:-1]:
            here = here[key]
        del here[path[-1]]
        if alone := of_types(tmp_path, data):
            assert set(findings(tmp_path, data)) == alone, path


def test_a_shared_signal_may_be_of_a_module_that_cannot_be_judged(tmp_path):
    data = good()
    line = {
        "every_s": 60,
        "max_age_s": 180,
        "signals": {"accumulator_outlet": {"unit": "degC", "accuracy": 1}},
    }
    data["signal_sets"]["line"] = line
    data["systems"]["north"]["shared"] = {"signal_set": "line"}
    early = {"layout": "two-pipe-single-early", "signal_set": 7}
    data["systems"]["north"]["modules"]["n2"] = early
    assert findings(tmp_path, data) == ["found 7; right would be text"]
    data["systems"]["north"]["modules"]["n2"] = {"template": "nowhere"}
    assert findings(tmp_path, data) == ["no template 'nowhere'"]
    del data["systems"]["north"]["modules"]["n2"]
    (found,) = findings(tmp_path, data)
    assert found.startswith("no layout of hill-house/north has a place for signal 'accumulator_outlet'")


def test_what_aliases_share_is_taken_out_where_it_is_wrong_only(tmp_path):
    data = good()
    polled = data["signal_sets"]["polled"]
    data["signal_sets"]["other"] = {**polled, "every_s": "often"}
    data["systems"]["north"]["modules"]["n2"] = {"layout": "two-pipe-twin-late", "signal_set": "other"}
    data["systems"]["north"]["modules"]["n1"]["configured_probe"] = "inlet"
    found = findings(tmp_path, data)
    assert len(found) == 2
    assert found[0] == "found 'often'; right would be a number"
    assert found[1].startswith("layout two-pipe-twin-late has no suction probe 'inlet'")

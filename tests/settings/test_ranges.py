"""Modules written once for many are the modules that they would be if each were written out."""

import json

import pytest

from agent.settings.ranges import MOST
from tests.settings.site import good, plan

BODY = {"layout": "two-pipe-twin-late", "signal_set": "polled"}


def with_modules(modules, **more):
    data = good() | more
    data["systems"]["north"]["modules"] = modules
    return data


def names(found):
    return [module.path.module for module in found.modules]


@pytest.mark.parametrize(
    ("key", "expected"),
    [
        ("n[1..3]", ["n1", "n2", "n3"]),
        ("n[08..11]", ["n08", "n09", "n10", "n11"]),
        ("n[1,3,7]", ["n1", "n3", "n7"]),
        ("n[ 1, 3 .. 4 ]", ["n1", "n3", "n4"]),
        ("roof-[7..7]", ["roof-7"]),
        ("[1..2]", ["1", "2"]),
        ("n[0..2]", ["n0", "n1", "n2"]),
        ("n1", ["n1"]),
    ],
)
def test_what_a_key_stands_for(tmp_path, key, expected):
    assert names(plan(tmp_path, with_modules({key: BODY}))) == expected


def test_as_many_as_a_block_may_have(tmp_path):
    assert len(plan(tmp_path, with_modules({f"n[1..{MOST}]": BODY})).modules) == MOST


def test_a_range_is_its_modules_written_out(tmp_path):
    out = with_modules({f"n{number}": BODY | {"topic": f"plant/{number}/n{number}"} for number in (1, 2, 3)})
    once = with_modules({"n[1..3]": BODY | {"topic": "plant/{number}/{module}"}})
    written_out, written_once = plan(tmp_path, out), plan(tmp_path, once)
    assert written_once.mapping == written_out.mapping
    for left, right in zip(written_once.modules, written_out.modules, strict=True):
        assert (left.path, left.topic, left.revision) == (right.path, right.topic, right.revision)


def test_placeholders(tmp_path):
    topic = "{site}/{system}/{number}/{module}/{module}"
    module = plan(tmp_path, with_modules({"n[01..02]": BODY | {"topic": topic}})).modules[1]
    assert module.topic == "hill-house/north/02/n02/n02"
    single = plan(tmp_path, with_modules({"unit-7": BODY | {"topic": "plant/{number}"}})).modules[0]
    assert single.topic == "plant/7"


def test_what_a_module_says_overrides_its_template_key_by_key(tmp_path):
    losses = {"pressure_loss_kpa": {"suction_pipe": 5.0}, "runs_above_hz": 9}
    template = {**BODY, **losses, "topic": "plant/{module}"}
    own = {"template": "late", "pressure_loss_kpa": {"compressor_inlet": 1.0}, "topic": "else/where"}
    found = plan(
        tmp_path, with_modules({"n1": own, "n[2..3]": {"template": "late"}}, templates={"late": template})
    )
    first, second, _ = found.modules
    assert (first.topic, second.topic) == ("else/where", "plant/n2")
    assert first.module.known_loss_pa == {"compressor_inlet": 1000.0}
    assert second.module.known_loss_pa == {"suction_pipe": 5000.0}
    assert first.module.runs_above_hz == second.module.runs_above_hz == 9


def test_which_template_it_came_from_is_not_what_an_assessment_rests_on(tmp_path):
    plain = plan(tmp_path, with_modules({"n1": BODY})).modules[0]
    by_template = plan(
        tmp_path, with_modules({"n1": {"template": "late"}}, templates={"late": BODY})
    ).modules[0]
    assert by_template.revision == plain.revision
    assert "template" not in json.loads(by_template.revision)["module"]

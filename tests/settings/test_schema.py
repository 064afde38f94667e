"""The JSON Schema, by the jsonschema library (draft 2020-12): what loads is valid, what is not is found."""

import json
from pathlib import Path

import orjson
import pytest
from jsonschema import Draft202012Validator

from agent.settings import json_schema
from agent.settings.source import Source
from tests.settings import test_bad_files
from tests.settings.site import GOOD, ROOT

BAD = Path(__file__).parent / "bad"
BEYOND_JSON = {"infinite-number", "number-as-name"}  # it has no infinity, and every key is text
VALIDATOR = Draft202012Validator(json_schema())


def errors(file):
    data = json.loads(orjson.dumps(Source(file).data, option=orjson.OPT_NON_STR_KEYS))
    return list(VALIDATOR.iter_errors(data))


def test_it_is_a_schema_of_that_draft():
    assert json_schema()["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(json_schema())


@pytest.mark.parametrize("file", [GOOD, ROOT / "config" / "demo.yaml"], ids=lambda file: file.name)
def test_what_loads_is_valid(file):
    assert errors(file) == []


@pytest.mark.parametrize("name", [*test_bad_files.KEYS, *test_bad_files.TYPES])
def test_mistakes_of_keys_and_types_are_found(name):
    assert bool(errors(BAD / f"{name}.yaml")) is (name not in BEYOND_JSON)


def test_blocks_and_templates_are_valid():
    for name in ("module-in-two-blocks", "range-on-one-topic", "mistake-in-a-dated-template"):
        found = [error for error in errors(BAD / f"{name}.yaml") if "wy" not in error.message]
        assert found == []


def test_every_key_says_what_it_is():
    schema = json_schema()
    places = {"": schema, **schema["$defs"]}
    silent = [
        f"{place}.{key}"
        for place, part in places.items()
        for key, body in part["properties"].items()
        if not body.get("description")
    ]
    assert silent == []
    assert all(part.get("description") for part in places.values())

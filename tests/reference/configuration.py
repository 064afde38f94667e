"""Every key of the configuration, as its JSON Schema has it: block by block."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from agent.settings import json_schema
from agent.settings.names import NAME
from tests.reference.markdown import code, joined, page, table

_UNITS = {
    "s": "s",
    "h": "h",
    "hours": "h",
    "days": "d",
    "hour": "hour of the day",
    "m": "m",
    "kpa": "kPa",
    "k": "K",
    "c": "degC",
    "hz": "Hz",
    "a": "A",
}
_MANY = {"limits": "ALARM"}  # what the keys of a block of blocks are called; else NAME
_HEAD = (
    "Every key that a configuration file (`-c site.yaml`) may have, block by block. "
    "[config/README.md](../README.md) says how they go together, and [demo.yaml](../demo.yaml) is a whole "
    "file. `dewline check -c site.yaml` names every mistake; `dewline check --schema` prints the same as "
    "a JSON Schema.",
    "A *name* is written in small letters, digits, `-` and `_`. A block that is not stated has the "
    "defaults of its keys. `–`: nothing, unless stated.",
)


def configuration() -> str:
    schema = json_schema()
    parts = schema["$defs"]
    sections = [_section("The file", schema)]
    for name, paths in _blocks(schema).items():
        sections.append(_section(joined(code(path) for path in paths), parts[name]))
    return page("The configuration, key by key", *_HEAD, *sections)


def _blocks(schema: dict[str, Any]) -> dict[str, list[str]]:
    """Each block by its name in the schema: at which paths it stands."""
    found: dict[str, list[str]] = {}

    def walk(part: dict[str, Any], path: str) -> None:
        for key, value in part["properties"].items():
            for name, below in _references(value, f"{path}.{key}".lstrip("."), _MANY.get(key, "NAME")):
                paths = found.setdefault(name, [])
                if below not in paths:
                    paths.append(below)
                    walk(schema["$defs"][name], below)

    walk(schema, "")
    return found


def _references(value: dict[str, Any], path: str, many: str) -> Iterator[tuple[str, str]]:
    if "$ref" in value:
        yield value["$ref"].rpartition("/")[2], path
    for each in value.get("anyOf", ()):
        yield from _references(each, path, many)
    if "items" in value:
        yield from _references(value["items"], f"{path}[]", many)
    for each in _of_any_name(value):
        yield from _references(each, f"{path}.{many}", many)


def _of_any_name(value: dict[str, Any]) -> list[dict[str, Any]]:
    """What stands under keys that the site chooses."""
    more = value.get("additionalProperties")
    return [*value.get("patternProperties", {}).values(), *([more] if isinstance(more, dict) else [])]


def _section(title: str, part: dict[str, Any]) -> str:
    needed = part.get("required") or part.get("anyOf", [{}])[0].get("required", [])
    rows = [
        (code(key), _type(value), _default(value, key in needed), _unit(key), _told(value))
        for key, value in part["properties"].items()
    ]
    about = part.get("description", "")
    return f"## {title}\n\n{about}\n\n{table(('key', 'value', 'default', 'unit', 'is'), rows)}"


def _told(value: dict[str, Any]) -> str:
    assert value.get("description"), f"no description of {value}"
    return str(value["description"]).replace("{", "`{").replace("}", "}`")


def _unit(key: str) -> str:
    _, mark, suffix = key.rpartition("_")
    return _UNITS.get(suffix, "") if mark else ""


def _default(value: dict[str, Any], needed: bool) -> str:
    if needed:
        return "**must be stated**"
    default = value.get("default")
    if default is None or isinstance(default, dict):
        return "–"
    if isinstance(default, list):
        return code(f"[{', '.join(default)}]")
    if isinstance(default, bool):
        return code(str(default).lower())
    return code(f"{default:g}" if isinstance(default, float) else default)


def _type(value: dict[str, Any]) -> str:
    if "$ref" in value:
        return "block"
    if "enum" in value:
        return joined(map(code, value["enum"]), "or")
    if "anyOf" in value:
        kinds = dict.fromkeys(_type(each) for each in value["anyOf"] if each.get("type") != "null")
        return joined((kind for kind in kinds if kind != "whole number" or "number" not in kinds), "or")
    match value["type"]:
        case "boolean":
            return "`true` or `false`"
        case "integer" | "number":
            return _number(value)
        case "array":
            of = _type(value["items"])
            return "list of blocks" if of == "block" else f"list of {of}"
        case "object":
            (of,) = {_type(each) for each in _of_any_name(value)}
            return f"names, each with a {of}" if of == "block" else f"names, each with {of}"
    return "name" if value.get("pattern") == NAME else "text"


def _number(value: dict[str, Any]) -> str:
    kind = "whole number" if value["type"] == "integer" else "number"
    least, most = value.get("minimum"), value.get("maximum")
    if least is not None and most is not None:
        return f"{kind}, {least:g} to {most:g}"
    if least is not None:
        return f"{kind}, {least:g} or more"
    return f"{kind} above {value['exclusiveMinimum']:g}" if "exclusiveMinimum" in value else kind

"""The configuration file as JSON Schema (draft 2020-12), for editors. It knows keys and types, no meaning.

What is written differs from what is checked in one place: a module's key may stand for many, and a template
may say what the module does not.
"""

from __future__ import annotations

from typing import Any

from agent.alarms import CATALOGUE
from agent.settings.model import Settings
from agent.thermo import REFRIGERANTS

MODULE_KEY = r"^[a-z0-9][a-z0-9_-]*(\[[0-9., ]+\])?$|^\[[0-9., ]+\]$"


def json_schema() -> dict[str, Any]:
    """The schema as plain data."""
    schema = Settings.model_json_schema()
    parts = schema["$defs"]
    for each in (schema, *parts.values()):
        for key in each["properties"].values():
            if "patternProperties" in key:
                key["additionalProperties"] = False
    modules = parts["SystemSettings"]["properties"]["modules"]
    (of_module,) = modules["patternProperties"].values()
    modules["patternProperties"] = {MODULE_KEY: of_module}
    needed = parts["ModuleSettings"].pop("required")
    parts["ModuleSettings"]["anyOf"] = [{"required": needed}, {"required": ["template"]}]
    parts["SystemSettings"]["properties"]["refrigerant"]["enum"] = list(REFRIGERANTS)
    schema["properties"]["limits"]["propertyNames"] = {"enum": list(CATALOGUE)}
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}

"""Configuration and layout files: read, checked, and turned into what the core works on."""

from agent.settings.corrections import correction
from agent.settings.names import ModulePath
from agent.settings.notes import QUANTITIES, Alike, alike, notes
from agent.settings.plan import Epoch, ModulePlan, Plan, load
from agent.settings.schema import json_schema
from agent.settings.shared import SharedPlan
from agent.settings.signals import Conversion
from agent.settings.source import ConfigError, Finding

__all__ = [
    "QUANTITIES",
    "Alike",
    "ConfigError",
    "Conversion",
    "Epoch",
    "Finding",
    "ModulePath",
    "ModulePlan",
    "Plan",
    "SharedPlan",
    "alike",
    "correction",
    "json_schema",
    "load",
    "notes",
]

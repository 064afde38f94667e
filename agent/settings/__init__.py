"""Configuration and layout files: read, checked, and turned into what the core works on."""

from agent.settings.mapping import Payload, moved
from agent.settings.plan import ModulePath, ModulePlan, Plan, load
from agent.settings.signals import Conversion
from agent.settings.source import ConfigError, Finding

__all__ = [
    "ConfigError",
    "Conversion",
    "Finding",
    "ModulePath",
    "ModulePlan",
    "Payload",
    "Plan",
    "load",
    "moved",
]

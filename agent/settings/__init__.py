"""Configuration and layout files: read, checked, and turned into what the core works on."""

from agent.settings.corrections import correction
from agent.settings.mapping import Payload, moved
from agent.settings.plan import Epoch, ModulePath, ModulePlan, Plan, load, load_layout
from agent.settings.sentences import meant
from agent.settings.signals import Conversion
from agent.settings.source import ConfigError, Finding

__all__ = [
    "ConfigError",
    "Conversion",
    "Epoch",
    "Finding",
    "ModulePath",
    "ModulePlan",
    "Payload",
    "Plan",
    "correction",
    "load",
    "load_layout",
    "meant",
    "moved",
]

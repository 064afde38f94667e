"""Configuration and layout files: read, checked, and turned into what the core works on."""

from agent.settings.likeness import likely_signal, likely_topic
from agent.settings.plan import ModulePath, ModulePlan, Plan, load
from agent.settings.signals import Conversion
from agent.settings.source import ConfigError, Finding
from agent.settings.taking import take

__all__ = [
    "ConfigError",
    "Conversion",
    "Finding",
    "ModulePath",
    "ModulePlan",
    "Plan",
    "likely_signal",
    "likely_topic",
    "load",
    "take",
]

"""Configuration and layout files: read, checked, and turned into what the core works on."""

from agent.settings.names import ModulePath
from agent.settings.plan import ModulePlan, Plan, load
from agent.settings.shared import SharedPlan
from agent.settings.signals import Conversion
from agent.settings.source import ConfigError, Finding

__all__ = ["ConfigError", "Conversion", "Finding", "ModulePath", "ModulePlan", "Plan", "SharedPlan", "load"]

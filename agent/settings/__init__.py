"""Configuration and layout files: read, checked, and turned into what the core works on."""

from agent.settings.changed import (
    LIMITS_EXAMPLE,
    CannotChangeError,
    Changed,
    Changes,
    left_out_words,
    load_changed,
)
from agent.settings.corrections import (
    CATCH_UP_DAYS,
    REASSESSED,
    correction,
    is_same,
    reassessed,
    reassessed_from_us,
)
from agent.settings.dated import moment_us
from agent.settings.layouts import load_layout
from agent.settings.likeness import likely_signal, likely_topic
from agent.settings.loading import load
from agent.settings.mapping import Address, Payload, ended_filters, moved
from agent.settings.names import ModulePath
from agent.settings.notes import QUANTITIES, Alike, alike, notes
from agent.settings.plan import Epoch, ModulePlan, Plan, UnknownModuleError
from agent.settings.schema import json_schema
from agent.settings.sentences import meant
from agent.settings.shared import SharedPlan
from agent.settings.signals import Conversion, known_signals
from agent.settings.source import ConfigError, Finding
from agent.settings.spans import is_span, span_us
from agent.settings.taking import take

__all__ = [
    "CATCH_UP_DAYS",
    "LIMITS_EXAMPLE",
    "QUANTITIES",
    "REASSESSED",
    "Address",
    "Alike",
    "CannotChangeError",
    "Changed",
    "Changes",
    "ConfigError",
    "Conversion",
    "Epoch",
    "Finding",
    "ModulePath",
    "ModulePlan",
    "Payload",
    "Plan",
    "SharedPlan",
    "UnknownModuleError",
    "alike",
    "correction",
    "ended_filters",
    "is_same",
    "is_span",
    "json_schema",
    "known_signals",
    "left_out_words",
    "load",
    "load_changed",
    "load_layout",
    "meant",
    "moment_us",
    "moved",
    "notes",
    "reassessed",
    "reassessed_from_us",
    "likely_signal",
    "likely_topic",
    "span_us",
    "take",
]

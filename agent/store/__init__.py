"""The store: everything the agent has received and worked out, in one SQLite file.

Knows readings as tuples, and assessments, detection states and journal entries as JSON text. It must not know
what they mean, where readings come from or who is told, and it never reads the clock: every time is an
argument, integer microseconds of UTC. Spans of time include both ends unless a docstring says otherwise.
"""

from agent.store.backing_up import Copied, DamagedError, back_up
from agent.store.engine import StoreError
from agent.store.keeping import QUARTER_US
from agent.store.records import (
    Added,
    AlarmState,
    Assessment,
    Command,
    DetectionChange,
    Handheld,
    HourRow,
    Hours,
    JournalEntry,
    Latest,
    Module,
    ModuleService,
    OutboxEntry,
    Revision,
    Series,
    Summary,
    Tally,
)
from agent.store.store import Store

__all__ = [
    "QUARTER_US",
    "Added",
    "AlarmState",
    "Assessment",
    "Command",
    "Copied",
    "DamagedError",
    "DetectionChange",
    "Handheld",
    "HourRow",
    "Hours",
    "JournalEntry",
    "Latest",
    "Module",
    "ModuleService",
    "OutboxEntry",
    "Revision",
    "Series",
    "Store",
    "StoreError",
    "Summary",
    "Tally",
    "back_up",
]

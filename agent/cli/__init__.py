"""The command line: thin commands that read their arguments, call the service, and show what comes back."""

from agent.cli import alarms, backup, check, explain, history, listen, measure, replay, run, status, visit
from agent.cli.shared import main

__all__ = [
    "alarms",
    "backup",
    "check",
    "explain",
    "history",
    "listen",
    "main",
    "measure",
    "replay",
    "run",
    "status",
    "visit",
]

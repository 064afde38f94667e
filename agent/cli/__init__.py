"""The command line: thin commands that read their arguments, call the service, and show what comes back."""

from agent.cli import alarms, backing_up, commands, explaining, measuring, replay, visiting
from agent.cli.shared import main

__all__ = ["alarms", "backing_up", "commands", "explaining", "main", "measuring", "replay", "visiting"]

"""The reference pages, made from the code that they describe: `python -m tests.reference` writes them anew.

A page says what the code says of itself; where it says too little to a user, the sentence belongs there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from tests.reference.alarms import alarms
from tests.reference.commands import commands
from tests.reference.configuration import configuration
from tests.reference.messages import messages
from tests.reference.metrics import metrics

FOLDER = Path(__file__).parents[2] / "config" / "reference"
MEND = "python -m tests.reference"
PAGES: Mapping[str, Callable[[], str]] = {
    "configuration.md": configuration,
    "alarms.md": alarms,
    "metrics.md": metrics,
    "messages.md": messages,
    "commands.md": commands,
}


def page(name: str) -> str:
    """A page as it is to stand in the folder."""
    return (
        f"<!-- Made from the code by `{MEND}`; what is changed here by hand is lost. -->\n\n{PAGES[name]()}"
    )

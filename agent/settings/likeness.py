"""Which signal a record that nobody mapped may be: by its name, its unit and what is still silent.

A guess that is only ever shown, never used.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Iterable

from agent.settings.plan import ModulePlan
from agent.settings.signals import known_signals
from agent.units import UNITS, Dimension, unit_in

LIKE = 0.7  # of difflib's ratio, from which a name is worth showing
LIKE_TOPIC = 0.8
_TOKEN = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|\d+")


def likely_signal(
    topic: str,
    name: str,
    unit: str | None,
    is_text: bool,
    modules: Iterable[ModulePlan],
    arriving: Collection[tuple[str, str]],
) -> str | None:
    """What a record may be, in the words of a sentence; None where nothing is like it.

    ``arriving``: module path and signal of those that are heard already, and so are looked for no more.
    """
    here = [module for module in modules if module.topic == topic]
    best: tuple[float, str] = (LIKE, "")
    for module in here:
        for signal, dimension in known_signals(module.module.layout).items():
            if (str(module.path), signal) in arriving or not _fits(dimension, unit, is_text):
                continue
            likeness = _likeness(name, signal)
            if likeness > best[0]:
                silent = signal in module.conversions
                state = "which is mapped and silent" if silent else "which is not in its signal set"
                best = (likeness, f"{signal} of {module.path.system}/{module.path.module}, {state}")
    return best[1] or None


def likely_topic(topic: str, silent: Iterable[str]) -> str | None:
    """The topic of a silent module that this one may have been written for."""
    close = difflib.get_close_matches(topic, list(silent), n=1, cutoff=LIKE_TOPIC)
    return close[0] if close else None


def _fits(dimension: Dimension | None, unit: str | None, is_text: bool) -> bool:
    if unit in UNITS:
        state = dimension is None and UNITS[unit].dimension is Dimension.RATIO
        return state or unit_in(unit, dimension) is not None
    return dimension is None if is_text else True


def _likeness(name: str, signal: str) -> float:
    """Of two names, whatever their case, separators and order of words."""
    first, second = _words(name), _words(signal)
    return max(
        difflib.SequenceMatcher(None, "".join(a), "".join(b)).ratio()
        for a, b in ((first, second), (sorted(first), sorted(second)))
    )


def _words(name: str) -> list[str]:
    return [token.lower() for token in _TOKEN.findall(name)] or [name.lower()]

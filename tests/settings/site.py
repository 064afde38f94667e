"""A good configuration to change one thing of."""

import copy
from pathlib import Path

import yaml

from agent.settings import load
from agent.settings.source import Source

ROOT = Path(__file__).parents[2]
LAYOUTS = ROOT / "config" / "layouts"
GOOD = Path(__file__).parent / "good.yaml"


def good():
    """The good configuration as plain data, its layouts found from anywhere."""
    return Source(GOOD).data | {"layouts": str(LAYOUTS)}


def changed(path, value):
    """The good configuration with another value at a path of keys."""
    data = copy.deepcopy(good())
    *way, last = path
    here = data
    for key in way:
        here = here[key]
    here[last] = value
    return data


def write(folder, data):
    file = folder / "site.yaml"
    file.write_text(yaml.safe_dump(data, sort_keys=False), encoding="utf-8")
    return file


def plan(folder, data):
    return load(write(folder, data))


def planned_signal(folder, name, **keys):
    """The only module of the good configuration in which a signal has these keys."""
    path = ("signal_sets", "polled", "signals", name)
    return plan(folder, changed(path, keys)).modules[0]

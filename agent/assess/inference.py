"""The mode where no point of the gateway states it, and what speaks against one that does.

It follows from which way the reversing valve stands, the outdoor fan and the compressors. A reversal out of
heating is a defrost as long as it may be one: cooling is what is left when nothing else is possible. Every
mode has its reason in a sentence. The thresholds are design choices, no source.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np

from agent.assess.elapsed import since
from agent.assess.frames import BoolArray, FloatArray, Frame, IntArray
from agent.assess.mode_codes import CODE
from agent.assess.module import SURE_WITH_FAN, SURE_WITHOUT_FAN, Module
from agent.assess.signals import FAN_SIGNALS, FLAGS, MODE_SIGNAL, REVERSING_VALVE
from agent.piping import STEADY_MODES, Coil, Layout

NOTHING = "nothing tells the mode"


def tells_mode(layout: Layout, signals: Collection[str]) -> bool:
    """Whether the mode follows from anything but the gateway's point for it."""
    return _by_reversing(layout, signals) or len(layout.modes) == 1 or _by_coils(layout, signals)


def _by_reversing(layout: Layout, signals: Collection[str]) -> bool:
    """Whether the reversing valve alone tells cooling from heating: not where rooms may do both at once."""
    return REVERSING_VALVE in signals and "simultaneous" not in layout.modes


def _by_coils(layout: Layout, signals: Collection[str]) -> bool:
    """Whether the valves of its coils tell all that a mode point could: rooms that heat and cool at once."""
    coils = layout.coils_by_valve("simultaneous")
    return bool(coils) and all(coil.valve in signals for coil in coils)


class Story:
    """A mode and its reason at every grid time. What is said later overrules."""

    def __init__(self, length: int) -> None:
        self.mode = np.full(length, CODE["unknown"])
        self.why = np.zeros(length, np.int64)
        self.whys = [NOTHING]

    def say(self, where: BoolArray, mode: str, why: str) -> None:
        """Where it holds, this is the mode, for this reason."""
        if where.any():
            if why not in self.whys:
                self.whys.append(why)
            self.mode[where] = CODE[mode]
            self.why[where] = self.whys.index(why)


def follow(module: Module, grid_us: IntArray, frames: Mapping[str, Frame], runs: IntArray) -> Story:
    """The mode at every grid time, with ``runs`` as in Course; what compressors stand for comes later."""
    story = Story(len(grid_us))
    nowhere = np.full(grid_us.shape, np.nan)
    stated = frames[MODE_SIGNAL].value if MODE_SIGNAL in frames else nowhere
    reverses = _by_reversing(module.layout, frames)
    valve = frames[REVERSING_VALVE].value if reverses else nowhere
    _by_piping(story, module)
    fan = _fan(frames, grid_us)
    if reverses:
        _by_valve(story, module, grid_us, fan, valve, runs)
    if MODE_SIGNAL in frames:
        _by_point(story, tells_mode(module.layout, module.signals), stated, valve, runs)
    _by_coil_valves(story, module, grid_us, frames, fan, runs)
    for flag in FLAGS:
        if flag in frames:
            story.say(frames[flag].value > 0, flag, f"the gateway's signal {flag} is active")
    return story


def _by_piping(story: Story, module: Module) -> None:
    everywhere = np.full(story.mode.shape, True)
    if len(module.layout.modes) == 1:
        (only,) = module.layout.modes
        story.say(everywhere, only, f"layout {module.layout.name} describes {only} alone")
    elif _by_coils(module.layout, module.signals):
        story.say(everywhere, "simultaneous", "what each coil does is told by its valve")


def _by_valve(
    story: Story,
    module: Module,
    grid_us: IntArray,
    fan: IntArray,
    valve: FloatArray,
    runs: IntArray,
) -> None:
    heats, cools = valve == 1, valve == 0
    story.say(np.isnan(valve), "unknown", f"{REVERSING_VALVE} is missing")
    story.say(heats, "heating", f"{REVERSING_VALVE} stands at heating")
    story.say(cools, "cooling", f"{REVERSING_VALVE} stands at cooling")
    longest_us = module.longest_defrost_us
    since_us = since(heats & (runs != 0), grid_us)
    reversed_ = cools & (since_us < SURE_WITHOUT_FAN * longest_us)
    minutes = longest_us // 60_000_000
    unknown = f"it reversed out of heating more than {minutes} min ago, and "
    story.say(reversed_ & (fan < 0), "unknown", unknown + "no signal tells whether the outdoor fan runs")
    not_sure = reversed_ & (fan > 0) & (since_us < SURE_WITH_FAN * longest_us)
    story.say(not_sure, "unknown", unknown + "may still come back from a defrost")
    story.say(reversed_ & (fan == 0), "defrost", "it reversed out of heating, and the outdoor fan stands")
    short = reversed_ & (since_us < longest_us)
    story.say(short, "defrost", f"it reversed out of heating less than {minutes} min ago")
    ran = (runs == 1) & (since(runs == 0, grid_us) >= module.start_us)  # a fan may start after its compressor
    text = "the outdoor fan stands while it heats: a defrost, or mild weather"
    story.say(heats & ran & (fan == 0), "unknown", text)


def _by_point(story: Story, others_tell: bool, stated: FloatArray, valve: FloatArray, runs: IntArray) -> None:
    """The gateway's own point goes first, unless the valve speaks against it while a compressor runs."""
    seen, whys = story.mode.copy(), story.why.copy()
    for mode, code in CODE.items():
        story.say(stated == code, mode, "")
    missing = np.isnan(stated)
    if others_tell:
        story.mode[missing], story.why[missing] = seen[missing], whys[missing]
    else:
        story.say(missing, "unknown", f"{MODE_SIGNAL} is missing, or its value has no meaning")
    for mode, other, stands in (("cooling", "heating", 1), ("heating", "cooling", 0)):
        against = (stated == CODE[mode]) & (valve == stands) & (runs != 0)
        text = f"{MODE_SIGNAL} says {mode} and {REVERSING_VALVE} stands at {other}: one of them is wrong"
        story.say(against, "unknown", text)
    defrosts = (stated == CODE["heating"]) & (seen == CODE["defrost"]) & (valve == 0) & (runs != 0)
    story.mode[defrosts], story.why[defrosts] = seen[defrosts], whys[defrosts]


def _by_coil_valves(
    story: Story,
    module: Module,
    grid_us: IntArray,
    frames: Mapping[str, Frame],
    fan: IntArray,
    runs: IntArray,
) -> None:
    """A coil that ceased to evaporate while the fan stands is defrosted; else it must agree with the mode."""
    layout = module.layout
    states = {c: frames[c.valve].value for c in layout.coils.values() if c.valve in frames}
    if not states:
        return
    evaporates = np.any([state == 1 for state in states.values()], axis=0) & (runs != 0)
    condenses = np.all([state == 0 for state in states.values()], axis=0) & (runs != 0)
    since_us = since(evaporates, grid_us)
    steady = np.isin(story.mode, [CODE[mode] for mode in STEADY_MODES])
    before = steady & condenses & (since_us < module.longest_defrost_us)
    story.say(before & (fan == 0), "defrost", "no coil evaporates any more, and the outdoor fan stands")
    text = "no coil evaporates any more, and no signal tells whether the outdoor fan runs"
    story.say(before & (fan < 0) & (story.mode == CODE["simultaneous"]), "unknown", text)
    for mode in layout.modes:
        for coil in [coil for coil in states if coil not in layout.coils_by_valve(mode)]:
            named = coil.name in layout.modes[mode].evaporators
            against = (story.mode == CODE[mode]) & (states[coil] == (0 if named else 1)) & (runs != 0)
            short = against & named & (since_us < module.longest_defrost_us)
            story.say(against & ~short, "unknown", _disagree(mode, coil, named))
            minutes = module.longest_defrost_us // 60_000_000
            story.say(short, "defrost", f"{coil.name} ceased to evaporate less than {minutes} min ago")


def _disagree(mode: str, coil: Coil, named: bool) -> str:
    does = "does not evaporate" if named else "evaporates"
    return f"the mode is said to be {mode}, but {coil.valve} says that {coil.name} {does}: one is wrong"


def _fan(frames: Mapping[str, Frame], grid_us: IntArray) -> IntArray:
    """Whether the outdoor fan runs: 1, 0, and -1 where it is not known."""
    for name in FAN_SIGNALS:
        if name in frames:
            value = frames[name].value
            return np.where(np.isnan(value), -1, value > 0).astype(np.int64)
    return np.full(grid_us.shape, -1)

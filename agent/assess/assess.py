"""Judge a module over a stretch of grid times: one code for now, late and last year.

Arrays in, arrays out. The result at a grid time depends on the readings up to it and on nothing else, so
any cutting of the time into stretches gives the same assessments.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from agent.assess.candidates import residuals
from agent.assess.discharge import discharge_tracks
from agent.assess.frames import BoolArray, IntArray, Samples
from agent.assess.highside import highside_tracks
from agent.assess.judge import Judge, Part
from agent.assess.machines import machine_tracks
from agent.assess.module import Module
from agent.assess.stretch import Stretch
from agent.assess.suction import suction_tracks
from agent.piping import RETURN


def assess(module: Module, grid_us: IntArray, samples: Mapping[str, Samples], step_us: int) -> Stretch:
    """Assess a module at every grid time.

    ``grid_us``: consecutive grid times, ``step_us`` apart. ``samples``: per signal its readings in SI,
    reaching back ``module.lookback_us`` before the first grid time.
    """
    return _judged(Judge(module, grid_us, samples, step_us))


class ToAssess(NamedTuple):
    """A module to be assessed at consecutive grid times, with its readings as `assess` takes them."""

    module: Module
    grid_us: IntArray
    samples: Mapping[str, Samples]


def assess_together(given: Sequence[ToAssess], step_us: int) -> Stretch:
    """Modules that differ in `Module.dry` alone, as if each had been assessed by itself, one after the other.

    They are laid end to end as one long history. What lies further back than a lookback changes no
    assessment, and so none has to do with the module before it; most of the work is done once for all.
    """
    module = given[0].module
    apart = -(-module.lookback_us // step_us) + 2
    begins = np.cumsum([0, *(len(each.grid_us) + apart for each in given)]).tolist()
    origin_us = int(given[0].grid_us[0])
    grid_us = origin_us + step_us * np.arange(begins[-1] - apart)
    parts = [
        Part(slice(begin, begin + len(each.grid_us)), each.module.dry)
        for begin, each in zip(begins, given, strict=False)
    ]
    reach_us = module.lookback_us + step_us
    samples = {
        name: _end_to_end(
            [
                _moved(each.samples[name], int(each.grid_us[0]), int(grid_us[part.where.start]), reach_us)
                for part, each in zip(parts, given, strict=True)
            ]
        )
        for name in given[0].samples
    }
    together = _judged(Judge(module, grid_us, samples, step_us, parts))
    return replace(together, grid_us=np.concatenate([each.grid_us for each in given]))


def _moved(samples: Samples, from_us: int, to_us: int, reach_us: int) -> Samples:
    """Readings on another clock; what lies further back than counts is left out."""
    first = np.searchsorted(samples.time_us, from_us - reach_us)
    return Samples(samples.time_us[first:] + (to_us - from_us), samples.value[first:])


def _end_to_end(several: Sequence[Samples]) -> Samples:
    times, values = zip(*several, strict=True)
    return Samples(np.concatenate(times), np.concatenate(values))


def _judged(judge: Judge) -> Stretch:
    module = judge.module
    tracks = suction_tracks(judge) | highside_tracks(judge) | discharge_tracks(judge) | machine_tracks(judge)
    made_of = residuals(module, judge.frames, tracks[RETURN], tuple(judge.phrases))
    cut, course = judge.asked, judge.course
    return Stretch(
        judge.grid_us[cut],
        course.lasted_us[cut],
        module.longest_transient_us,
        judge.situation[cut],
        judge.situations,
        course.why[cut],
        course.whys,
        {name: track.cut(cut) for name, track in tracks.items()},
        tuple(judge.phrases),
        judge.settled()[cut],
        {name: judge.usable(name, by_itself=True)[cut] for name in judge.frames},
        {name: state[cut] for name, state in course.running.items()},
        {name: _started(state)[cut] for name, state in course.running.items()},
        {name: residual[cut] for name, residual in made_of.items()},
        failures=judge.failures.cut(cut),
    )


def _started(running: IntArray) -> BoolArray:
    return np.concatenate(([False], (running[1:] == 1) & (running[:-1] == 0)))

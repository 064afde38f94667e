"""Judge a module over a stretch of grid times: one code for now, late and last year.

Arrays in, arrays out. The result at a grid time depends on the readings up to it and on nothing else, so
any cutting of the time into stretches gives the same assessments.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from agent.assess.candidates import residuals
from agent.assess.discharge import discharge_tracks
from agent.assess.frames import BoolArray, IntArray, Samples
from agent.assess.highside import highside_tracks
from agent.assess.judge import Judge
from agent.assess.machines import machine_tracks
from agent.assess.module import Module
from agent.assess.stretch import Stretch, Track
from agent.assess.suction import suction_tracks
from agent.piping import RETURN


def assess(module: Module, grid_us: IntArray, samples: Mapping[str, Samples], step_us: int) -> Stretch:
    """Assess a module at every grid time.

    ``grid_us``: consecutive grid times, ``step_us`` apart. ``samples``: per signal its readings in SI,
    reaching back ``module.lookback_us`` before the first grid time.
    """
    judge = Judge(module, grid_us, samples, step_us)
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
        {name: Track(t.value[cut], t.below[cut], t.above[cut], t.said[cut]) for name, t in tracks.items()},
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

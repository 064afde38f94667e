"""Stretches put together by hand: return superheat figure by figure, without a module behind them."""

import numpy as np

from agent.alarms import CONDITIONS
from agent.assess import SECOND, SWING, Cause, Said, Status, Stretch
from agent.assess.stretch import Track
from agent.piping import (
    COMPRESSOR_INLET,
    RETURN,
    STEADY_MODES,
    Choice,
    Choices,
    Fitness,
    ProbeFitness,
    Situation,
    Standing,
)

STEP_US = 30 * SECOND
START_US = 1_700_000_000 * SECOND
CODE = {str(condition): code for code, condition in enumerate(CONDITIONS)}


def stretch(
    *rows, fitness="fit", mode="cooling", cause=Cause.NONE, late=None, swing=None, lasted_s=7200, running=None
):
    """Rows of (value, below, above), with status and standing behind them where they are not plain."""
    plain = (Status.DECIDED, Standing.FIT)
    figures = [tuple(row[:3]) for row in rows]
    phrases = []
    said = []
    for row in rows:
        status, standing = (*row[3:], *plain[len(row) - 3 :])
        words = Said(Status(status), cause, "as set", Standing(standing), ("probe",))
        if words not in phrases:
            phrases.append(words)
        said.append(phrases.index(words))
    value, below, above = np.array(figures, float).T
    choices = Choices(
        {"probe": ProbeFitness(Fitness(fitness), "as set")},
        {RETURN: Choice(Standing.FIT, ("probe",), "as set")},
        described=mode in STEADY_MODES,
    )
    absent = Said(Status.NOT_MEASURABLE, Cause.PIPING, "as set", Standing.NOT_MEASURABLE, ())
    bound = Said(Status.DECIDED, Cause.NONE, "as set", Standing.UPPER_BOUND, ("late",))
    phrases += [absent, bound]
    others = {
        COMPRESSOR_INLET: _track(len(rows), late, len(phrases) - (1 if late else 2)),
        SWING: _track(len(rows), swing, len(phrases) - (1 if swing else 2)),
    }
    return Stretch(
        START_US + STEP_US * np.arange(len(rows)),
        np.full(len(rows), lasted_s * SECOND),
        1200 * SECOND,
        np.zeros(len(rows), np.int64),
        ((Situation.of(mode, None, running), choices),),
        np.zeros(len(rows), np.int64),
        ("",),
        {RETURN: Track(value, below, above, np.array(said)), **others},
        tuple(phrases),
        np.full(len(rows), True),
        {},
        {},
        {},
    )


def _track(count, row, phrase):
    value, below, above = (np.full(count, figure) for figure in row or (np.nan, np.nan, np.nan))
    return Track(value, below, above, np.full(count, phrase))


def times(count, step_us=STEP_US):
    return START_US + step_us * np.arange(count)


def codes(words):
    return np.array([CODE[word] for word in words])

"""Views of one invented module, put together by hand: what the outlets are given."""

from agent.alarms import Facts, Priority
from agent.assess import AT_PROBE, SATURATED_SUCTION, Assessment, Cause, Quantity, Said, Status
from agent.outlets import ModuleView, StandingAlarm
from agent.piping import (
    ACCUMULATOR_CHANGE,
    ACCUMULATOR_OUTLET,
    COMPRESSOR_INLET,
    RETURN,
    RISE,
    Fitness,
    Standing,
)
from agent.settings import ModulePath

NOON_US = 1_764_072_000_000_000  # 2025-11-25 12:00 UTC
MINUTE_US = 60_000_000
PATH = ModulePath("hill-house", "one", "m1")

NOTHING_THERE = "no probe sits between the accumulator and the first inlet"


def decided(value, below=1.7, above=0.7, *probes):
    return Quantity(
        Said(Status.DECIDED, Cause.NONE, "all vapour passes here", Standing.FIT, probes), value, below, above
    )


def without(status, cause=Cause.READING, text="suction_pipe is missing", *probes, value=None):
    spread = None if value is None else 0.7
    return Quantity(Said(status, cause, text, None, probes), value, spread, spread)


NOT_SETTLED = without(Status.NOT_SETTLED, Cause.SPREAD, "suction_pipe is swinging", "suction_pipe", value=3.3)
NOT_DECIDABLE = without(Status.NOT_DECIDABLE, Cause.MODE, "in mode defrost values are kept, not judged")
MISSING = without(Status.MISSING)
NOT_MEASURABLE = without(Status.NOT_MEASURABLE, Cause.PIPING, NOTHING_THERE)
UNDECIDED = {
    "not settled": NOT_SETTLED,
    "not decidable": NOT_DECIDABLE,
    "missing": MISSING,
    "not measurable": NOT_MEASURABLE,
}


def assessment(grid_us=NOON_US, *, returned=None, rise=None, inlet=None, mode="cooling"):
    return Assessment(
        grid_us=grid_us,
        revision_id=1,
        mode=mode,
        fitness={
            "suction_pipe": (Fitness.FIT, "all returning vapour passes here"),
            "compressor_inlet": (Fitness.MIXED, "oil_return (warms) joins upstream of it"),
        },
        running=("1",),
        quantities={
            SATURATED_SUCTION: decided(5.4, 0.4, 0.4),
            RETURN: returned or decided(6.0, 1.7, 0.7, "suction_pipe"),
            ACCUMULATOR_OUTLET: NOT_MEASURABLE,
            COMPRESSOR_INLET: inlet or decided(9.0, 0.7, 0.7, "compressor_inlet"),
            RISE: rise or decided(3.0, 0.8, 0.8, "compressor_inlet", "suction_pipe"),
            ACCUMULATOR_CHANGE: NOT_MEASURABLE,
            f"{AT_PROBE}suction_pipe": decided(6.0, 1.7, 0.7, "suction_pipe"),
            f"{AT_PROBE}compressor_inlet": decided(9.0, 0.7, 0.7, "compressor_inlet"),
        },
        conditions={},
    )


ALARM = StandingAlarm(
    "superheat-low",
    Priority.HIGH,
    NOON_US - 30 * MINUTE_US,
    Facts("return superheat 0.5 K at suction_pipe, limit 2 K", "suction_pipe", 0.5, 1.7, 0.7, 2.0),
)


def shown(of=None, alarms=(), path=PATH, newest_us=NOON_US):
    return ModuleView(path, of or assessment(), tuple(alarms), newest_us)

"""Modules that are assessed together are assessed as each by itself."""

from dataclasses import replace

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from agent.assess import Samples, assess
from agent.assess.assess import ToAssess, assess_together
from agent.assess.failing.failures import KINDS, Kind
from agent.assess.module import Dry
from tests.assess.world import (
    EARLY,
    START_US,
    STEP_US,
    THERMISTOR,
    TRANSDUCER,
    coarse,
    cut_to,
    grid,
    module,
    random_day,
    samples,
)

HIGH = {"discharge_pressure": TRANSDUCER, "discharge_1": THERMISTOR}
OF = [
    module(signals=HIGH),
    module(EARLY, signals=HIGH),
    coarse(module(signals=HIGH)),
    module(without=["compressor_1_speed", "compressor_2_speed"], signals=HIGH),
]
DRY = [
    {},
    {"cooling": {"1": Dry(0.55, 0.65, (40.0, 60.0), (1.5, 6.0))}},
    {"cooling": {"1": Dry(np.nan, np.nan, (), (np.nan, np.nan), "they do not count")}, "heating": {}},
]


def together(several, step_us=STEP_US):
    """What each of them comes to."""
    whole, ends = assess_together(several, step_us), np.cumsum([len(each.grid_us) for each in several])
    return [whole.part(slice(end - len(each.grid_us), end)) for each, end in zip(several, ends, strict=True)]


def records(of, stretch):
    """What is kept, what the hours are summed up from, and whether a mode has lasted too long."""
    lasted_us = np.minimum(stretch.lasted_us, of.longest_transient_us + 1)
    beside = [lasted_us, stretch.settled, *stretch.signals.values(), *stretch.running.values()]
    beside += [*stretch.started.values(), *stretch.residuals.values()]
    return list(stretch.records({}, ())), np.nan_to_num(np.array(beside, float), nan=-1e9).tolist()


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_together_as_each_by_itself(data):
    of = data.draw(st.sampled_from(OF))
    step_us = data.draw(st.sampled_from([STEP_US, 2 * STEP_US]))
    several = []
    for _ in range(data.draw(st.integers(1, 4))):
        one = replace(of, dry=data.draw(st.sampled_from(DRY)))
        begin = data.draw(st.integers(0, 200))
        grid_us = grid(240, step_us)[begin : begin + data.draw(st.integers(1, 40))]
        day = random_day(one, np.random.default_rng(data.draw(st.integers(0, 2**32))), 250)
        first_us = int(grid_us[0]) - one.lookback_us - step_us
        several.append(ToAssess(one, grid_us, cut_to(day, first_us, int(grid_us[-1]))))
    found = together(several, step_us)
    assert [each.grid_us.tolist() for each in found] == [each.grid_us.tolist() for each in several]
    for each, stretch in zip(several, found, strict=True):
        assert records(of, stretch) == records(of, assess(*each, step_us))


def test_a_silent_one_stays_silent_beside_a_lively_one():
    of = OF[0]
    day = random_day(of, np.random.default_rng(5), 200)
    grid_us = grid(190)[-2:]
    silent = ToAssess(of, grid_us, cut_to(day, 0, START_US))
    lively = ToAssess(of, grid_us, cut_to(day, int(grid_us[0]) - of.lookback_us, int(grid_us[-1])))
    for several in ([silent, lively, silent], [lively, silent, lively]):
        for each, stretch in zip(several, together(several), strict=True):
            assert records(of, stretch) == records(of, assess(*each, STEP_US))


def test_how_fine_a_signal_is_is_told_by_the_figure_at_which_it_stands():
    """Of a probe whose step nobody stated, one figure between two degrees shows that it is fine; an earlier
    one does not, which an assessment a little later could no longer see."""
    of = module(signals=HIGH | {"suction_pipe": replace(THERMISTOR, step=0.0)})
    grid_us = grid(120)[-1:]
    day = samples(of, int(grid_us[0]), since_us=int(grid_us[0]) - of.lookback_us)
    for name in ("compressor_inlet", "discharge_1", "suction_pressure", "discharge_pressure"):
        time_us, value = day[name]
        day[name] = Samples(time_us, value + of.signals[name].step * (np.arange(len(value)) % 7))
    time_us = day["suction_pipe"].time_us
    between = np.full(len(time_us), 9.3)
    whole = np.full(len(time_us), 9.0)
    whole[:3] = 9.3
    fine, not_fine = (
        ToAssess(of, grid_us, day | {"suction_pipe": Samples(time_us, value)}) for value in (between, whole)
    )
    found = together([fine, not_fine, fine])
    kinds = [KINDS[each.failures.kinds("suction_pipe")[0]] for each in found]
    assert kinds == [Kind.FROZEN, Kind.FINE, Kind.FROZEN]
    for each, stretch in zip([fine, not_fine, fine], found, strict=True):
        assert records(of, stretch) == records(of, assess(*each, STEP_US))

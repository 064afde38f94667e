"""The form that is kept: what goes in comes back, by word and figure."""

import numpy as np
import orjson
import pytest

from agent.assess import AT_PROBE, SECOND, SWING, assess, load_assessment, load_conditions
from agent.piping import RETURN, Fitness, Standing
from tests.assess.world import EARLY, STEP_US, grid, mode_by, modes, module, random_day, samples

NAMES = ("unknown", "clear", "beyond")


@pytest.fixture(params=["late", "early"])
def stretch(request):
    of = module() if request.param == "late" else module(EARLY)
    return assess(of, grid(240), random_day(of, np.random.default_rng(8428), 240), STEP_US)


def test_every_figure_and_word_comes_back(stretch):
    size = len(stretch.grid_us)
    codes = {"superheat-low": np.arange(size) % 3, "probe-unfit": np.arange(size) % 2}
    kept = list(stretch.records(codes, NAMES))
    assert [grid_us for grid_us, _, _ in kept] == stretch.grid_us.tolist()
    for index, (grid_us, basis, figures) in enumerate(kept):
        back = load_assessment(grid_us, 7, basis, figures)
        situation, choices = stretch.situations[stretch.situation[index]]
        assert (back.grid_us, back.revision_id, back.mode) == (grid_us, 7, situation.mode)
        assert back.running == (None if situation.running is None else tuple(sorted(situation.running)))
        assert back.fitness == {p: (f.verdict, f.reason) for p, f in choices.fitness.items()}
        assert list(back.quantities) == list(stretch.tracks)
        for name, track in stretch.tracks.items():
            quantity = back.quantities[name]
            assert quantity.said == stretch.phrases[track.said[index]]
            assert quantity.decided == (quantity.said.status == "decided")
            for one, column in zip(quantity[1:], (track.value, track.below, track.above), strict=True):
                assert (
                    one is None
                    if np.isnan(column[index])
                    else one == pytest.approx(column[index], abs=5.1e-5)
                )
        assert back.conditions == load_conditions(basis)
        assert back.conditions == {"superheat-low": NAMES[index % 3], "probe-unfit": NAMES[index % 2]}


def test_the_kinds_come_back_as_kinds(stretch):
    back = load_assessment(0, 1, *next(iter(stretch.records({}, ())))[1:])
    assert all(isinstance(verdict, Fitness) for verdict, _ in back.fitness.values())
    standings = {type(q.said.standing) for q in back.quantities.values()}
    assert standings <= {Standing, type(None)}
    assert back.conditions == {}


def test_a_value_that_is_not_there_is_kept_as_nothing_and_never_as_zero():
    of = module()
    given_samples = samples(of, int(grid(5)[-1]), suction_pipe=None)
    stretch = assess(of, grid(5), given_samples, STEP_US)
    (_, basis, figures) = list(stretch.records({}, ()))[-1]
    back = load_assessment(0, 1, basis, figures).quantities
    assert back[RETURN][1:] == back[AT_PROBE + "suction_pipe"][1:] == (None, None, None)
    assert back[SWING][1:] == (None, None, None)
    assert "NaN" not in figures
    assert orjson.loads(figures).count(None) >= 6


def test_the_words_of_like_times_are_one_text():
    of = module()
    stretch = assess(of, grid(60), samples(of, int(grid(60)[-1])), STEP_US)
    assert len({basis for _, basis, _ in stretch.records({}, ())}) == 1
    assert len(set(modes(stretch))) == 1


def test_how_long_a_mode_has_lasted_goes_with_it():
    of = module(longest_transient_us=700 * SECOND)
    of_a_change = samples(of, int(grid(30)[-1]), mode=mode_by(10, "cooling", "defrost"))
    stretch = assess(of, grid(30), of_a_change, STEP_US)
    assert stretch.longest_transient_us == 700 * SECOND
    assert (stretch.lasted_us[:20] > of.lookback_us).all()
    assert stretch.lasted_us[20:].tolist() == [STEP_US * n for n in range(40)]
    assert len(stretch.lasted_us) == len(stretch.grid_us)


def test_the_end_of_a_start_is_the_beginning_of_the_mode():
    of = module()
    stretch = assess(
        of, grid(30), samples(of, int(grid(30)[-1]), mode=mode_by(10, "off", "cooling")), STEP_US
    )
    starting = np.array(modes(stretch)) == "starting"
    assert stretch.lasted_us[starting].tolist() == [STEP_US * n for n in range(6)]
    assert stretch.lasted_us[26:].tolist() == [STEP_US * n for n in range(34)]

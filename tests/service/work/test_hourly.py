"""What takes hours, on a real store: learnt day by day, the same whatever the order, and told once."""

import numpy as np
import pytest

from agent.assess import Hour
from agent.assess.byhour.baseline import DAY_US, usual
from agent.readings import EVER_US
from agent.service.commands.commanding import work_off_commands
from agent.service.commands.giving import give
from agent.service.work.alarming import Alarms
from agent.service.work.hourly import cuts, piece_hours
from agent.service.work.order import Kind
from tests.service.site import START_US, STEP_US, minute, plan, told, world

NEEDED = 6
DAY = 24 * 60
MIDNIGHT = 16 * 60  # the story begins at 08:00 UTC
BLOCKED_FROM = MIDNIGHT + 120
END = BLOCKED_FROM + 420
ABSENT = "oil-return-absent"


def story(first=0, last=END):
    """Oil that no longer comes back from a minute on: the late probe then reads as the other does."""
    for sample_us, name, value in told(first, last, every_s=60):
        if name == "compressor_inlet":
            value = round(value + (1.0 if sample_us < minute(BLOCKED_FROM) else -3.0), 1)
        yield sample_us, name, value


@pytest.fixture
def site(tmp_path):
    return plan(tmp_path, assess={"step_s": 30, "learning_hours": NEEDED})


def kept(one):
    hours = one.store.hours(one.watched.module_id, 0, EVER_US)
    return (
        hours,
        one.assessed,
        one.detected,
        [(e.alarm, e.event_us, e.transition, e.body) for e in one.journal],
    )


@pytest.fixture(scope="module")
def at_once(tmp_path_factory):
    folder = tmp_path_factory.mktemp("at-once")
    with world(folder, site=plan(folder, assess={"step_s": 30, "learning_hours": NEEDED})) as one:
        one.receive(story())
        one.work(END)
        yield kept(one), one


def test_hours_are_kept_whole_and_in_order(at_once):
    (bodies, *_), _ = at_once
    hours = [Hour.load(body) for body in bodies]
    # the first hour has a grid time before the first reading
    assert [hour.from_us for hour in hours] == [START_US + n * 3_600_000_000 for n in range(1, END // 60)]
    assert hours[3].settled_mode == "cooling"
    assert hours[3].parts["cooling"].quantities["oil_return_rise"].mean == pytest.approx(4.0, abs=0.2)


def test_it_learns_until_midnight_and_tells_when_the_oil_stays_away(at_once):
    _, one = at_once
    (line,) = one.lines(ABSENT)
    assert line.transition == "raised"
    late_min = (line.event_us - minute(BLOCKED_FROM)) / 60e6
    assert 120 <= late_min <= 240  # one whole settled hour, and two hours of delay
    assert "usual at like speed: 4.0 K" in line.body
    assert one.watched.findings[ABSENT].condition == "beyond"


def test_step_by_step_gives_the_same(at_once, tmp_path, site):
    whole, _ = at_once
    with world(tmp_path / "steps", site=site) as one:
        for now in range(0, END, 47):
            one.receive(story(now, min(now + 47, END)))
            one.work(min(now + 47, END))
        hours, assessed, detected, journal = kept(one)
        assert hours == whole[0]
        assert assessed == whole[1]
        assert detected == whole[2]
        assert journal == whole[3]


def test_a_late_morning_is_learnt_and_what_rests_on_it_assessed_again(at_once, tmp_path, site):
    """The hours that teach come last: what was assessed without a baseline is assessed with it."""
    whole, _ = at_once
    with world(tmp_path / "late", site=site) as one:
        one.receive(story(MIDNIGHT - 60, END))
        one.work(END)
        assert one.lines(ABSENT) == []
        one.receive(story(0, MIDNIGHT - 60))
        one.work(END)
        one.work(END)
        hours, assessed, detected, _ = kept(one)
        assert (hours, assessed, detected) == whole[:3]
        assert one.transitions(ABSENT) == ["raised"]


def test_a_restart_knows_the_findings(at_once):
    _, one = at_once
    before = one.watched.findings
    one.restart()
    assert one.watched.findings == before


def test_pieces_begin_with_parts_of_the_day():
    assert piece_hours(30_000_000, 2880) == 24
    assert piece_hours(5_000_000, 2880) == 4
    assert piece_hours(30_000_000, 45) == 1
    grid = np.arange(START_US, START_US + DAY_US, STEP_US)
    assert cuts(grid, 24) == [MIDNIGHT * 2]


def test_what_is_learnt_anew_counts_from_the_days_that_begin_after(tmp_path, site):
    """After work on the module the hours before it teach no more; days before it keep what they rest on."""
    with world(tmp_path / "anew", site=site) as one:
        one.receive(story())
        one.work(END)
        alarms = Alarms(one.store)
        give(one.store, site.modules[0], Kind.RELEARN, "A", minute(BLOCKED_FROM), why="new oil separator")
        work_off_commands(one.store, alarms, [one.watched], minute(END))
        epoch, hourly = site.modules[0].epochs[-1], one.watched.hourly(one.store)

        def median(at):
            found = usual(hourly.baseline(epoch, minute(at)), "cooling", "oil_return_rise", 110.0)
            return found and found.median

        assert median(MIDNIGHT - 1) is None
        assert median(END) == pytest.approx(4.0)
        assert median(MIDNIGHT + DAY) == pytest.approx(0.0, abs=0.1)


REPLACED = MIDNIGHT + 77  # in the middle of an hour, ahead of the fault


def another_unit(one, now, at=REPLACED):
    alarms = Alarms(one.store)
    more = {"at_us": minute(at)}
    command = give(
        one.store, one.plan.modules[0], Kind.REPLACED, "A", minute(now), why="burnt out", more=more
    )
    work_off_commands(one.store, alarms, [one.watched], minute(now))
    assert not one.store.command(command).refused


@pytest.fixture(scope="module")
def replaced(tmp_path_factory):
    """All the work at once, of another unit since a while."""
    folder = tmp_path_factory.mktemp("replaced")
    with world(folder, site=plan(folder, assess={"step_s": 30, "learning_hours": NEEDED})) as one:
        one.receive(story())
        another_unit(one, END)
        one.work(END)
        yield kept(one), one


def test_of_another_unit_nothing_of_the_one_before_is_usual(replaced):
    _, one = replaced
    epoch, hourly = one.plan.modules[0].epochs[-1], one.watched.hourly(one.store)

    def median(at):
        found = usual(hourly.baseline(epoch, minute(at)), "cooling", "oil_return_rise", 110.0)
        return found and found.median

    assert median(REPLACED - 1) == pytest.approx(4.0)  # the unit before, on the same day
    assert median(REPLACED) is None and median(END) is None
    assert median(MIDNIGHT + DAY) == pytest.approx(0.0, abs=0.1)  # as the fault was there from the first on


def test_no_window_mixes_two_units(replaced):
    _, one = replaced
    hourly = one.watched.hourly(one.store)
    assert min(hour.from_us for hour in hourly.past(minute(END), STEP_US).hours) == minute(MIDNIGHT + 120)
    assert hourly.past(minute(REPLACED + 30), STEP_US) is None  # no whole hour of it yet
    assert hourly.past(minute(REPLACED - 1), STEP_US).hours[0].from_us == minute(60)
    (bodies, *_), _ = replaced
    hours = {Hour.load(body).from_us for body in bodies}
    assert minute(MIDNIGHT + 60) not in hours  # partly the one, partly the other
    assert {minute(MIDNIGHT), minute(MIDNIGHT + 120)} <= hours
    assert one.lines(ABSENT) == []  # against the unit before, its oil would stay away


@pytest.mark.parametrize("said_at", [REPLACED + 1, END])
def test_however_the_work_is_cut_and_whenever_it_is_said_another_unit_gives_the_same(
    replaced, tmp_path, site, said_at
):
    whole, _ = replaced
    with world(tmp_path / "steps", site=site) as one:
        ends = sorted({*range(47, END, 47), REPLACED + 1, END})
        for first, last in zip([0, *ends], ends, strict=False):
            one.receive(story(first, last))
            one.work(last)
            if last == said_at:
                another_unit(one, last)
        one.work(END)
        assert kept(one)[:3] == whole[:3]
        # an alarm that came of comparing the new unit with the old one is taken back
        assert one.transitions(ABSENT) == ([] if said_at < END else ["raised", "withdrawn"])


def test_a_restart_knows_of_it(replaced):
    _, one = replaced
    before = one.watched.hourly(one.store).past(minute(END), STEP_US)
    one.restart()
    assert one.watched.service.replaced_us == minute(REPLACED)
    assert one.watched.hourly(one.store).past(minute(END), STEP_US) == before


def test_a_time_between_two_units_keeps_to_its_own(tmp_path, site):
    """Readings that come late are assessed with what was known of the unit that stood there then."""
    with world(tmp_path / "twice", site=site) as one:
        one.receive(story())
        another_unit(one, END, at=300)
        another_unit(one, END, at=REPLACED)
        one.work(END)
        epoch, hourly = one.plan.modules[0].epochs[-1], one.watched.hourly(one.store)
        assert hourly.units_us == (minute(300), minute(REPLACED))

        def first(at):
            learnt = hourly.baseline(epoch, minute(at)).hours.get("cooling", ())
            return learnt[0].from_us if learnt else None

        assert first(MIDNIGHT + 30) == minute(300)  # not of the first unit
        assert first(REPLACED) is None and first(MIDNIGHT + DAY) == minute(MIDNIGHT + 120)
        past = hourly.past(minute(MIDNIGHT + 30), STEP_US)
        assert past.hours[0].from_us == minute(300) and past.hours[-1].from_us < minute(REPLACED)

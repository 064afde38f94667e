"""A module's past as CSV in pieces: the same rows as in one go, whatever the cut."""

import csv
import io

import pytest

from agent.outlets import assessment_rows, reading_rows, write_rows
from agent.service.look import past_csv as module
from agent.service.look.looking import past, received
from agent.service.look.pages import Pages
from agent.service.look.past_csv import past_csv
from tests.service.site import MINUTE_US, WET_K, minute, told, world

FROM_US, TO_US = minute(0), minute(95)


@pytest.fixture
def kept(tmp_path):
    with world(tmp_path) as made:
        made.receive(told(0, 60, lambda now: WET_K if now < 40 else 6.0))
        made.receive(told(70, 90, mode=lambda now: now > 75))
        made.work(90)
        yield made


def rows(pieces):
    text = "".join(pieces)
    return list(csv.reader(io.StringIO(text, newline="")))


@pytest.mark.parametrize("readings", [False, True])
@pytest.mark.parametrize("minutes", [360, 7, 0.6])
def test_any_cut_gives_the_rows_of_the_whole(kept, monkeypatch, minutes, readings):
    monkeypatch.setattr(module, "PIECE_US", int(minutes * MINUTE_US))
    plan = kept.plan.modules[0]
    found = rows(past_csv(kept.store, kept.plan, plan, FROM_US, TO_US, readings))
    out = io.StringIO()
    if readings:
        whole = reading_rows(received(kept.store, kept.plan, plan, FROM_US, TO_US))
    else:
        whole = assessment_rows(*past(kept.store, plan, FROM_US, TO_US))
    count = write_rows(whole, "csv", out)
    assert len(found) == count + 1 > 100
    head, *others = found
    same = list(csv.DictReader(io.StringIO(out.getvalue(), newline="")))
    assert [dict(zip(head, row, strict=True)) for row in others] == same
    if not readings:
        assert {row["alarms"] for row in same} == {"", "superheat-low"}


def test_only_the_stretch_that_is_asked_for(kept):
    plan = kept.plan.modules[0]
    head, *found = rows(past_csv(kept.store, kept.plan, plan, minute(20), minute(21), False))
    assert [row[0] for row in found] == [
        "2025-11-25T08:20:00Z",
        "2025-11-25T08:20:30Z",
        "2025-11-25T08:21:00Z",
    ]


@pytest.mark.parametrize("readings", [False, True])
def test_where_there_is_nothing_the_header_stands_alone(kept, readings):
    plan = kept.plan.modules[0]
    found = rows(past_csv(kept.store, kept.plan, plan, minute(-900), minute(-800), readings))
    assert len(found) == 1 and found[0][0] == "time"


def test_since_when_readings_are_kept_is_where_the_rows_begin(kept):
    plan, pages = kept.plan.modules[0], Pages(kept.store, kept.plan, lambda: TO_US)
    assert pages.kept_from_us() is None
    while kept.store.thin(minute(30), 500, lambda _, value, unit: (float(value), unit), {}):
        pass
    found = rows(pages.history("one", "m1", FROM_US, TO_US, True))[1:]
    assert found == rows(past_csv(kept.store, kept.plan, plan, minute(30), TO_US, True))[1:]
    assert pages.kept_from_us() == minute(30)


def test_text_that_came_in_as_a_value_is_no_formula(kept):
    time_us, name, _ = next(iter(told(91, 92)))
    kept.receive([(time_us, "mode", '=HYPERLINK("http://x")')])
    plan = kept.plan.modules[0]
    (found,) = rows(past_csv(kept.store, kept.plan, plan, minute(91), minute(92), True))[1:]
    assert found[1:3] == ["mode", '\'=HYPERLINK("http://x")']

"""Commands, alarm states and what people said of a module: kept whole with what followed, or not at all."""

import sqlite3
from contextlib import closing

import pytest
from alembic import command as alembic_command

from agent.readings import Span
from agent.store import (
    AlarmState,
    Command,
    Handheld,
    JournalEntry,
    ModuleService,
    OutboxEntry,
    Store,
    StoreError,
    migrate,
)
from agent.store.engine import transaction, writing_engine
from tests.store.conftest import MODULE

STATE = AlarmState("superheat-low", 90, 100, '{"state": {}}')
HANDHELD = Handheld(40, 50, "A. Fitter", "probe", "suction_pipe", None, 12.0, 0.5, "{}")
NOTICE = OutboxEntry(100, "crew", "key", "HIGH superheat-low", "it stands")


def command(module_id, who="A. Fitter", **changes):
    return Command(50, who, "shelve", module_id, "superheat-low", '{"why": "part"}')._replace(**changes)


def entry(module_id):
    return JournalEntry(module_id, "superheat-low", 50, 100, "shelved", "{}")


def test_commands_wait_in_their_order_until_they_are_done(store, module_id):
    first, second = (store.give(command(module_id, who)) for who in ("A", "B"))
    assert [(each.id, each.who) for each in store.waiting_commands()] == [(first, "A"), (second, "B")]
    store.finish_command(store.command(first), 100, "It is shelved.", alarm_states=[STATE])
    assert [each.id for each in store.waiting_commands()] == [second]
    done = store.command(first)
    assert (done.done_us, done.refused, done.outcome) == (100, False, "It is shelved.")
    store.finish_command(store.command(second), 100, "No.", refused=True)
    assert store.command(second).refused is True
    assert store.waiting_commands() == [] and store.command(99) is None


def test_an_outcome_is_never_written_over(store, module_id):
    given = store.command(store.give(command(module_id)))
    store.finish_command(given, 100, "It is shelved.")
    store.finish_command(given, 200, "Once more.")
    assert store.command(given.id).outcome == "It is shelved."


@pytest.mark.parametrize(
    "spoilt", ["alarm_states", "journal", "notices", "service", "handheld", "dirty_span"]
)
def test_what_a_command_did_is_kept_whole_or_not_at_all(store, module_id, spoilt):
    given = store.command(store.give(command(module_id)))
    work = {
        "alarm_states": [STATE],
        "journal": [entry(module_id)],
        "notices": [NOTICE],
        "service": ModuleService(100, None),
        "handheld": HANDHELD,
        "dirty_span": Span(module_id, 10, 20),
    }
    broken = {
        "alarm_states": [STATE._replace(state=None)],
        "journal": [entry(module_id + 1)],
        "notices": [NOTICE._replace(body=None)],
        "service": ModuleService(object(), None),
        "handheld": HANDHELD._replace(place=None),
        "dirty_span": Span(module_id + 1, 10, 20),
    }
    with pytest.raises(StoreError):
        store.finish_command(given, 100, "Done.", **{**work, spoilt: broken[spoilt]})
    assert [each.id for each in store.waiting_commands()] == [given.id]
    assert store.alarm_states(module_id) == store.journal(None, 0, 999) == store.next_notices() == []
    assert store.module_service(module_id) == ModuleService()
    assert store.handhelds(module_id, 0, 999) == store.dirty(module_id) == []
    store.finish_command(given, 100, "Done.", **work)
    assert store.waiting_commands() == []
    assert store.alarm_states(module_id) == [STATE]
    assert len(store.journal(None, 0, 999)) == len(store.next_notices()) == 1
    assert store.module_service(module_id) == ModuleService(100, None)
    assert store.handhelds(module_id, 0, 999) == [HANDHELD._replace(id=1)]
    assert [span for _, span in store.dirty(module_id)] == [Span(module_id, 10, 20)]


def test_what_was_measured_comes_in_the_order_of_its_times(store, module_id):
    for at_us in (70, 40, 90):
        given = store.command(store.give(command(module_id)))
        store.finish_command(given, 100, "Kept.", handheld=HANDHELD._replace(at_us=at_us))
    assert [each.at_us for each in store.handhelds(module_id, 40, 70)] == [40, 70]
    assert store.handhelds(module_id + 1, 0, 999) == []


def test_of_a_unit_that_was_replaced_nobody_has_confirmed_the_layout_yet():
    assert ModuleService(100, None).unconfirmed_us is None
    assert (
        ModuleService(100, None, 200).unconfirmed_us == ModuleService(None, None, 200).unconfirmed_us == 200
    )
    assert ModuleService(300, None, 200).unconfirmed_us is None


def test_a_state_is_written_with_what_was_detected_and_over_the_one_before(store, module_id):
    revision_id = store.open_revision(module_id, "{}", "first", 7).id
    store.finish(module_id, revision_id, [], alarm_states=[STATE], notices=[NOTICE])
    other, again = STATE._replace(alarm="feed-stale"), STATE._replace(since_us=None, changed_us=200)
    store.finish(module_id, revision_id, [], alarm_states=[again, other])
    assert store.alarm_states(module_id) == [other, again]
    with pytest.raises(StoreError):
        store.finish(
            module_id, revision_id, [], alarm_states=[STATE], notices=[NOTICE._replace(subject=None)]
        )
    assert store.alarm_states(module_id) == [other, again]


def test_since_when_each_module_has_been_watched(store, module_id):
    assert store.first_opened_us() == {}
    for digest, opened_us in (("{}", 7), ('{"a": 1}', 9)):
        store.open_revision(module_id, digest, "why", opened_us)
    assert store.first_opened_us() == {module_id: 7}


def test_people_give_commands_beside_a_running_agent(store, url, module_id):
    with Store.open_beside(url) as beside:
        beside.give(command(module_id))
    assert len(store.waiting_commands()) == 1


def test_giving_a_command_makes_no_store_and_migrates_none(tmp_path, url):
    with pytest.raises(StoreError, match="no store at"):
        Store.open_beside(url)
    path = tmp_path / "store.db"
    older(path)
    with pytest.raises(StoreError, match="schema 0002, older than"):
        Store.open_beside(url)


def test_an_older_store_keeps_its_journal_and_gets_what_is_new(tmp_path, url):
    path = tmp_path / "store.db"
    older(path)
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("INSERT INTO module VALUES (1, ?, ?, ?)", MODULE)
        connection.execute("INSERT INTO alarm_journal VALUES (1, 1, 'superheat-low', 5, 6, 'raised', '{}')")
    with Store.open(url) as store:
        assert [entry.transition for entry in store.journal(1, 0, 9)] == ["raised"]
        assert store.alarm_states(1) == store.waiting_commands() == []
        assert store.module_service(1) == ModuleService()


def test_notices_by_the_first_word_of_their_subject(store):
    entries = [
        NOTICE._replace(notice_key=str(n), created_us=n, subject=subject)
        for n, subject in enumerate(["HIGH a", "OVER a", "LOW b", "HIGHER c", "HIGH d"])
    ]
    store.enqueue(entries)
    assert store.notices_between(0, 3, ["HIGH", "LOW"]) == [("crew", 0, "HIGH a"), ("crew", 2, "LOW b")]


def older(path):
    writer = writing_engine(path, durable=False)
    with transaction(writer, path) as connection:
        config = migrate.configuration()
        config.attributes["connection"] = connection
        alembic_command.upgrade(config, "0002")
    writer.dispose()

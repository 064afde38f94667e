"""What people tell the agent, and what has become of each alarm."""

from collections.abc import Iterable, Sequence

from sqlalchemy import Connection, func, select, update

from agent.store import schema
from agent.store.engine import insert
from agent.store.records import AlarmState, Command, ModuleService

_COMMAND = [schema.command.c[name] for name in Command._fields]
_WAITS = schema.command.c.done_us.is_(None)


def give(connection: Connection, command: Command) -> int:
    """Add a command that waits; its id."""
    row = {name: getattr(command, name) for name in Command._fields if name != "id"}
    added = insert(schema.command).values(**row).returning(schema.command.c.id)
    command_id: int = connection.execute(added).scalar_one()
    return command_id


def waiting(connection: Connection) -> list[Command]:
    found = connection.execute(select(*_COMMAND).where(_WAITS).order_by(schema.command.c.id))
    return [Command(*row) for row in found]


def command(connection: Connection, command_id: int) -> Command | None:
    row = connection.execute(select(*_COMMAND).where(schema.command.c.id == command_id)).one_or_none()
    return None if row is None else Command(*row)


def done(connection: Connection, command_id: int, done_us: int, outcome: str, refused: bool) -> None:
    connection.execute(
        update(schema.command)
        .where(schema.command.c.id == command_id, _WAITS)
        .values(done_us=done_us, outcome=outcome, refused=refused)
    )


def write_states(connection: Connection, module_id: int, states: Sequence[AlarmState]) -> None:
    """Write over what is kept of these alarms."""
    if not states:
        return
    statement = insert(schema.alarm_state)
    new = statement.excluded
    connection.execute(
        statement.on_conflict_do_update(
            index_elements=["module_id", "alarm"],
            set_={"since_us": new.since_us, "changed_us": new.changed_us, "state": new.state},
        ),
        [{"module_id": module_id, **state._asdict()} for state in states],
    )


def states(connection: Connection, module_id: int) -> list[AlarmState]:
    columns = schema.alarm_state.c
    wanted = select(*(columns[name] for name in AlarmState._fields)).where(columns.module_id == module_id)
    return [AlarmState(*row) for row in connection.execute(wanted.order_by(columns.alarm))]


def write_service(connection: Connection, module_id: int, service: ModuleService) -> None:
    statement = insert(schema.module_service).values(module_id=module_id, **service._asdict())
    connection.execute(statement.on_conflict_do_update(index_elements=["module_id"], set_=service._asdict()))


def service(connection: Connection, module_id: int) -> ModuleService:
    columns = schema.module_service.c
    row = connection.execute(
        select(*(columns[name] for name in ModuleService._fields)).where(columns.module_id == module_id)
    ).one_or_none()
    return ModuleService() if row is None else ModuleService(*row)


def first_opened_us(connection: Connection) -> dict[int, int]:
    """When the first revision was opened, of every module that has one."""
    columns = schema.revision.c
    found = select(columns.module_id, func.min(columns.opened_us)).group_by(columns.module_id)
    return {row[0]: row[1] for row in connection.execute(found)}


def sent_between(
    connection: Connection, from_us: int, to_us: int, beginnings: Iterable[str]
) -> list[tuple[str, int, str]]:
    """Route, time and subject of notices put into the outbox whose subject begins with one of these words."""
    columns = schema.outbox.c
    found = connection.execute(
        select(columns.route, columns.created_us, columns.subject)
        .where(columns.created_us.between(from_us, to_us))
        .order_by(columns.id)
    )
    wanted = tuple(f"{word} " for word in beginnings)
    return [(row.route, row.created_us, row.subject) for row in found if row.subject.startswith(wanted)]

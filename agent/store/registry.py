"""What has an id: modules, signals, revisions of the point mapping, revisions of a module."""

import hashlib
import json
import secrets
from collections.abc import Collection

from sqlalchemy import Connection, literal, literal_column, select, update

from agent.store import schema
from agent.store.engine import StoreError, insert
from agent.store.records import Module, Revision

ModulePath = tuple[str, str, str]
SignalKey = tuple[str, str]

SECRET_BYTES = 32  # as long as what SHA-256 gives: RFC 2104, section 3


def register_modules(connection: Connection, paths: Collection[ModulePath]) -> dict[ModulePath, int]:
    if paths:
        connection.execute(
            insert(schema.module).on_conflict_do_nothing(),
            [{"site": site, "system": system, "name": name} for site, system, name in paths],
        )
    ids = {(row.site, row.system, row.name): row.id for row in modules(connection)}
    return {path: ids[path] for path in paths}


def modules(connection: Connection) -> list[Module]:
    return [Module(*row) for row in connection.execute(select(schema.module).order_by(schema.module.c.id))]


def register_signals(connection: Connection, keys: Collection[SignalKey]) -> dict[SignalKey, int]:
    if keys:
        connection.execute(
            insert(schema.signal).on_conflict_do_nothing(),
            [{"owner": owner, "name": name} for owner, name in keys],
        )
    ids = signals(connection)
    return {key: ids[key] for key in keys}


def signals(connection: Connection) -> dict[SignalKey, int]:
    return {(row.owner, row.name): row.id for row in connection.execute(select(schema.signal))}


def register_mapping(connection: Connection, body: str, now_us: int) -> int:
    digest = digest_of(body)
    connection.execute(
        insert(schema.mapping).values(digest=digest, body=body, opened_us=now_us).on_conflict_do_nothing()
    )
    columns = schema.mapping.c
    mapping_id: int = connection.execute(select(columns.id).where(columns.digest == digest)).scalar_one()
    return mapping_id


def mappings(connection: Connection) -> dict[int, str]:
    columns = schema.mapping.c
    return {row.id: row.body for row in connection.execute(select(columns.id, columns.body))}


def open_revision(connection: Connection, module_id: int, body: str, reason: str, now_us: int) -> Revision:
    current = current_revision(connection, module_id)
    digest = digest_of(body)
    if current is not None:
        if current.digest == digest:
            return current
        connection.execute(
            update(schema.revision).where(schema.revision.c.id == current.id).values(current=False)
        )
    opened = {
        "module_id": module_id,
        "opened_us": now_us,
        "digest": digest,
        "body": body,
        "reason": reason,
        "current": True,
    }
    statement = insert(schema.revision).values(opened).returning(schema.revision)
    revision = Revision(*connection.execute(statement).one())
    if current is not None:
        take_over(connection, current.id, revision.id)
    return revision


def take_over(connection: Connection, before_id: int, revision_id: int) -> None:
    """Copy all that was detected: late readings may reach back behind the revision's opening."""
    old = schema.detection.c
    detected = select(old.module_id, old.alarm, old.grid_us, literal(revision_id), old.state)
    columns = ["module_id", "alarm", "grid_us", "revision_id", "state"]
    connection.execute(
        insert(schema.detection).from_select(columns, detected.where(old.revision_id == before_id))
    )


def current_revision(connection: Connection, module_id: int) -> Revision | None:
    columns = schema.revision.c  # and in the words of the index, else every module's revisions are read
    row = connection.execute(
        select(schema.revision).where(columns.module_id == module_id, literal_column("revision.current"))
    ).one_or_none()
    return None if row is None else Revision(*row)


def revision_body(connection: Connection, revision_id: int) -> str:
    columns = schema.revision.c
    body = connection.execute(select(columns.body).where(columns.id == revision_id)).scalar_one_or_none()
    if body is None:
        raise StoreError(f"there is no revision {revision_id}")
    return str(body)


def digest_of(body: str) -> str:
    """A digest of JSON text that does not depend on the order of keys or on spaces.

    Raises ValueError where the text is not JSON.
    """
    same = json.dumps(json.loads(body), sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(same.encode()).hexdigest()


def secret(connection: Connection, name: str) -> bytes | None:
    columns = schema.secret.c
    found: bytes | None = connection.scalar(select(columns.value).where(columns.name == name))
    return found


def make_secret(connection: Connection, name: str) -> bytes:
    """The secret of this name; another process may have made it meanwhile."""
    made = insert(schema.secret).values(name=name, value=secrets.token_bytes(SECRET_BYTES))
    connection.execute(made.on_conflict_do_nothing())
    found = secret(connection, name)
    assert found is not None
    return found

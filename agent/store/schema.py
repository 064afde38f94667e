"""The tables. Migrations create them; a test holds the two together.

Readings are keyed by time first: a small batch then touches a few pages at the end of the table instead of
one page per signal, and writes a sixtieth of the bytes.
"""

from typing import Any

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    text,
)
from sqlalchemy.types import UserDefinedType


class AsReceived(UserDefinedType[float | int | str]):
    """A column declared without a type: SQLite then keeps 12, 12.5 and "12" as they came."""

    cache_ok = True

    def get_col_spec(self, **_: Any) -> str:
        return ""


metadata = MetaData()

module = Table(
    "module",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("site", Text, nullable=False),
    Column("system", Text, nullable=False),
    Column("name", Text, nullable=False),
    UniqueConstraint("site", "system", "name", name="module_path"),
)

signal = Table(
    "signal",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("owner", Text, nullable=False),
    Column("name", Text, nullable=False),
    UniqueConstraint("owner", "name", name="signal_key"),
)

mapping = Table(
    "mapping",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("digest", Text, nullable=False, unique=True),
    Column("body", Text, nullable=False),
    Column("opened_us", BigInteger, nullable=False),
)

# No foreign keys on reading and conflict: two look-ups a row on the busiest path, for ids that the same
# process was given when it registered its signals and its mapping.
reading = Table(
    "reading",
    metadata,
    Column("sample_us", BigInteger, primary_key=True),
    Column("signal_id", Integer, primary_key=True),
    Column("value", AsReceived, nullable=False),
    Column("unit", Text),
    Column("arrival_us", BigInteger, nullable=False),
    Column("mapping_id", Integer, nullable=False),
    sqlite_with_rowid=False,
)

# What is left of readings that are no longer kept: the quarters of an hour of a signal, as received. Numbers
# are in `summary` (`unit` empty where the payload stated none), what is no number is counted in `tally`.
# Where a row is, all of that quarter may be gone from `reading`; behind the last one nothing is.
summary = Table(
    "summary",
    metadata,
    Column("from_us", BigInteger, primary_key=True),
    Column("signal_id", Integer, primary_key=True),
    Column("mapping_id", Integer, primary_key=True),
    Column("unit", Text, primary_key=True),
    Column("number", Integer, nullable=False),
    Column("least", Float, nullable=False),
    Column("mean", Float, nullable=False),
    Column("most", Float, nullable=False),
    sqlite_with_rowid=False,
)

tally = Table(
    "tally",
    metadata,
    Column("from_us", BigInteger, primary_key=True),
    Column("signal_id", Integer, primary_key=True),
    Column("mapping_id", Integer, primary_key=True),
    Column("value", AsReceived, primary_key=True),
    Column("number", Integer, nullable=False),
    sqlite_with_rowid=False,
)

conflict = Table(
    "conflict",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("sample_us", BigInteger, nullable=False),
    Column("signal_id", Integer, nullable=False),
    Column("value", AsReceived, nullable=False),
    Column("unit", Text),
    Column("arrival_us", BigInteger, nullable=False),
    Index("conflict_key", "sample_us", "signal_id"),
)

refused = Table(
    "refused",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("arrival_us", BigInteger, nullable=False),
    Column("topic", Text, nullable=False),
    Column("reason", Text, nullable=False),
    Column("detail", Text, nullable=False),
    Column("head", LargeBinary, nullable=False),
    Index("refused_reason", "reason"),
)

# Ids are never used again: a span that was read and worked off must not be taken for a newer one.
dirty = Table(
    "dirty",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("module_id", Integer, ForeignKey("module.id"), nullable=False),
    Column("from_us", BigInteger, nullable=False),
    Column("to_us", BigInteger, nullable=False),
    sqlite_autoincrement=True,
)

revision = Table(
    "revision",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("module_id", Integer, ForeignKey("module.id"), nullable=False),
    Column("opened_us", BigInteger, nullable=False),
    Column("digest", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("reason", Text, nullable=False),
    Column("current", Boolean, nullable=False),
    Index(
        "revision_current",
        "module_id",
        unique=True,
        sqlite_where=text("current"),
        postgresql_where=text("current"),
    ),
)

# The words of an assessment repeat endlessly; they are stored once and pointed to.
basis = Table(
    "basis",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("digest", Text, nullable=False, unique=True),
    Column("body", Text, nullable=False),
)

assessment = Table(
    "assessment",
    metadata,
    Column("module_id", Integer, ForeignKey("module.id"), primary_key=True),
    Column("grid_us", BigInteger, primary_key=True),
    Column("revision_id", Integer, ForeignKey("revision.id"), primary_key=True),
    Column("basis_id", Integer, ForeignKey("basis.id"), nullable=False),
    Column("figures", Text, nullable=False),
    sqlite_with_rowid=False,
)

progress = Table(
    "progress",
    metadata,
    Column("module_id", Integer, ForeignKey("module.id"), primary_key=True, autoincrement=False),
    Column("assessed_us", BigInteger, nullable=False),
)

detection = Table(
    "detection",
    metadata,
    Column("module_id", Integer, ForeignKey("module.id"), primary_key=True),
    Column("alarm", Text, primary_key=True),
    Column("grid_us", BigInteger, primary_key=True),
    Column("revision_id", Integer, ForeignKey("revision.id"), primary_key=True),
    Column("state", Text, nullable=False),
    sqlite_with_rowid=False,
)

# Append-only: triggers in the migration refuse UPDATE and DELETE.
alarm_journal = Table(
    "alarm_journal",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("module_id", Integer, ForeignKey("module.id"), nullable=False),
    Column("alarm", Text, nullable=False),
    Column("event_us", BigInteger, nullable=False),
    Column("known_us", BigInteger, nullable=False),
    Column("transition", Text, nullable=False),
    Column("body", Text, nullable=False),
    Index("alarm_journal_module", "module_id", "event_us"),
)

# What whole hours come to, by the newest revision; kept as long as a baseline may be learnt from them.
hour = Table(
    "hour",
    metadata,
    Column("module_id", Integer, ForeignKey("module.id"), primary_key=True),
    Column("from_us", BigInteger, primary_key=True),
    Column("settled", Text),
    Column("body", Text, nullable=False),
    Index(
        "hour_settled",
        "module_id",
        "settled",
        "from_us",
        sqlite_where=text("settled IS NOT NULL"),
        postgresql_where=text("settled IS NOT NULL"),
    ),
    sqlite_with_rowid=False,
)

# Written with what caused it; the key keeps the same notice from going out twice on a route.
outbox = Table(
    "outbox",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("created_us", BigInteger, nullable=False),
    Column("route", Text, nullable=False),
    Column("notice_key", Text, nullable=False),
    Column("subject", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("attempts", Integer, nullable=False),
    Column("next_us", BigInteger, nullable=False),
    Column("sent_us", BigInteger),
    Column("last_error", Text),
    Column("priority", Text),
    Column("brief", Text),
    UniqueConstraint("notice_key", "route", name="outbox_key"),
    Index(
        "outbox_waiting",
        "route",
        "id",
        sqlite_where=text("sent_us IS NULL"),
        postgresql_where=text("sent_us IS NULL"),
    ),
)

# What people tell the running agent; it works them off in the order of their ids.
command = Table(
    "command",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("created_us", BigInteger, nullable=False),
    Column("who", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("module_id", Integer, ForeignKey("module.id")),
    Column("alarm", Text),
    Column("body", Text, nullable=False),
    Column("done_us", BigInteger),
    Column("refused", Boolean),
    Column("outcome", Text),
    Index(
        "command_waiting",
        "id",
        sqlite_where=text("done_us IS NULL"),
        postgresql_where=text("done_us IS NULL"),
    ),
)

alarm_state = Table(
    "alarm_state",
    metadata,
    Column("module_id", Integer, ForeignKey("module.id"), primary_key=True),
    Column("alarm", Text, primary_key=True),
    Column("since_us", BigInteger),
    Column("changed_us", BigInteger),
    Column("state", Text, nullable=False),
    sqlite_with_rowid=False,
)

# What people have said of a module as a whole. No row: nothing.
module_service = Table(
    "module_service",
    metadata,
    Column("module_id", Integer, ForeignKey("module.id"), primary_key=True, autoincrement=False),
    Column("confirmed_us", BigInteger),
    Column("relearn_us", BigInteger),
    Column("replaced_us", BigInteger),
)

# What people measured by hand: SI, beside what they said in `body`.
handheld = Table(
    "handheld",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("module_id", Integer, ForeignKey("module.id"), nullable=False),
    Column("at_us", BigInteger, nullable=False),
    Column("given_us", BigInteger, nullable=False),
    Column("who", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("place", Text, nullable=False),
    Column("side", Text),
    Column("value", Float, nullable=False),
    Column("half_width", Float, nullable=False),
    Column("body", Text, nullable=False),
    Index("handheld_module", "module_id", "at_us"),
)

# What only this store knows. A row that is deleted is made anew, and what rested on it no longer holds.
secret = Table(
    "secret",
    metadata,
    Column("name", Text, primary_key=True),
    Column("value", LargeBinary, nullable=False),
)

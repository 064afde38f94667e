"""The first schema."""

import sqlalchemy as sa
from alembic import op

from agent.store.schema import AsReceived

revision = "0001"
down_revision = None


def upgrade() -> None:
    op.create_table(
        "module",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("site", sa.Text, nullable=False),
        sa.Column("system", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.UniqueConstraint("site", "system", "name", name="module_path"),
    )
    op.create_table(
        "signal",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("owner", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.UniqueConstraint("owner", "name", name="signal_key"),
    )
    op.create_table(
        "mapping",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("digest", sa.Text, nullable=False, unique=True),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("opened_us", sa.BigInteger, nullable=False),
    )
    op.create_table(
        "reading",
        sa.Column("sample_us", sa.BigInteger, primary_key=True),
        sa.Column("signal_id", sa.Integer, primary_key=True),
        sa.Column("value", AsReceived, nullable=False),
        sa.Column("unit", sa.Text),
        sa.Column("arrival_us", sa.BigInteger, nullable=False),
        sa.Column("mapping_id", sa.Integer, nullable=False),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "conflict",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("sample_us", sa.BigInteger, nullable=False),
        sa.Column("signal_id", sa.Integer, nullable=False),
        sa.Column("value", AsReceived, nullable=False),
        sa.Column("unit", sa.Text),
        sa.Column("arrival_us", sa.BigInteger, nullable=False),
    )
    op.create_index("conflict_key", "conflict", ["sample_us", "signal_id"])
    op.create_table(
        "refused",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("arrival_us", sa.BigInteger, nullable=False),
        sa.Column("topic", sa.Text, nullable=False),
        sa.Column("reason", sa.Text, nullable=False),
        sa.Column("detail", sa.Text, nullable=False),
        sa.Column("head", sa.LargeBinary, nullable=False),
    )
    op.create_index("refused_reason", "refused", ["reason"])
    op.create_table(
        "dirty",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("module_id", sa.Integer, sa.ForeignKey("module.id"), nullable=False),
        sa.Column("from_us", sa.BigInteger, nullable=False),
        sa.Column("to_us", sa.BigInteger, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "revision",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("module_id", sa.Integer, sa.ForeignKey("module.id"), nullable=False),
        sa.Column("opened_us", sa.BigInteger, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("reason", sa.Text, nullable=False),
        sa.Column("current", sa.Boolean, nullable=False),
    )
    op.create_index(
        "revision_current",
        "revision",
        ["module_id"],
        unique=True,
        sqlite_where=sa.text("current"),
        postgresql_where=sa.text("current"),
    )
    op.create_table(
        "basis",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("digest", sa.Text, nullable=False, unique=True),
        sa.Column("body", sa.Text, nullable=False),
    )
    op.create_table(
        "assessment",
        sa.Column("module_id", sa.Integer, sa.ForeignKey("module.id"), primary_key=True),
        sa.Column("grid_us", sa.BigInteger, primary_key=True),
        sa.Column("revision_id", sa.Integer, sa.ForeignKey("revision.id"), primary_key=True),
        sa.Column("basis_id", sa.Integer, sa.ForeignKey("basis.id"), nullable=False),
        sa.Column("figures", sa.Text, nullable=False),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "progress",
        sa.Column("module_id", sa.Integer, sa.ForeignKey("module.id"), primary_key=True, autoincrement=False),
        sa.Column("assessed_us", sa.BigInteger, nullable=False),
    )
    op.create_table(
        "detection",
        sa.Column("module_id", sa.Integer, sa.ForeignKey("module.id"), primary_key=True),
        sa.Column("alarm", sa.Text, primary_key=True),
        sa.Column("grid_us", sa.BigInteger, primary_key=True),
        sa.Column("revision_id", sa.Integer, sa.ForeignKey("revision.id"), primary_key=True),
        sa.Column("state", sa.Text, nullable=False),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "alarm_journal",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("module_id", sa.Integer, sa.ForeignKey("module.id"), nullable=False),
        sa.Column("alarm", sa.Text, nullable=False),
        sa.Column("event_us", sa.BigInteger, nullable=False),
        sa.Column("known_us", sa.BigInteger, nullable=False),
        sa.Column("transition", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
    )
    op.create_index("alarm_journal_module", "alarm_journal", ["module_id", "event_us"])
    for change in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER alarm_journal_no_{change.lower()} BEFORE {change} ON alarm_journal "
            "BEGIN SELECT RAISE(ABORT, 'the alarm journal is append-only'); END"
        )

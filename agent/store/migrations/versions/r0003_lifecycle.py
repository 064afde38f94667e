"""Commands of people to the running agent, and what has become of each alarm."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    op.create_table(
        "command",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("created_us", sa.BigInteger, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("module_id", sa.Integer, sa.ForeignKey("module.id")),
        sa.Column("alarm", sa.Text),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("done_us", sa.BigInteger),
        sa.Column("refused", sa.Boolean),
        sa.Column("outcome", sa.Text),
    )
    op.create_index(
        "command_waiting",
        "command",
        ["id"],
        sqlite_where=sa.text("done_us IS NULL"),
        postgresql_where=sa.text("done_us IS NULL"),
    )
    op.create_table(
        "alarm_state",
        sa.Column("module_id", sa.Integer, sa.ForeignKey("module.id"), primary_key=True),
        sa.Column("alarm", sa.Text, primary_key=True),
        sa.Column("since_us", sa.BigInteger),
        sa.Column("changed_us", sa.BigInteger),
        sa.Column("state", sa.Text, nullable=False),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "module_service",
        sa.Column("module_id", sa.Integer, sa.ForeignKey("module.id"), primary_key=True, autoincrement=False),
        sa.Column("confirmed_us", sa.BigInteger),
        sa.Column("relearn_us", sa.BigInteger),
    )

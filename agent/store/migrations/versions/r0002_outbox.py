"""The outbox of notices."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    op.create_table(
        "outbox",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("created_us", sa.BigInteger, nullable=False),
        sa.Column("route", sa.Text, nullable=False),
        sa.Column("notice_key", sa.Text, nullable=False),
        sa.Column("subject", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("attempts", sa.Integer, nullable=False),
        sa.Column("next_us", sa.BigInteger, nullable=False),
        sa.Column("sent_us", sa.BigInteger),
        sa.Column("last_error", sa.Text),
        sa.UniqueConstraint("notice_key", "route", name="outbox_key"),
    )
    op.create_index(
        "outbox_waiting",
        "outbox",
        ["route", "id"],
        sqlite_where=sa.text("sent_us IS NULL"),
        postgresql_where=sa.text("sent_us IS NULL"),
    )

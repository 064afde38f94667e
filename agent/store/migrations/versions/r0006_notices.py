"""Notices that can be told in one message, and that quiet hours may hold; secrets of the store's own."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    op.add_column("outbox", sa.Column("priority", sa.Text))
    op.add_column("outbox", sa.Column("brief", sa.Text))
    op.create_table(
        "secret",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("value", sa.LargeBinary, nullable=False),
    )

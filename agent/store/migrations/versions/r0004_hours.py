"""What whole hours of a module come to."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0002"


def upgrade() -> None:
    op.create_table(
        "hour",
        sa.Column("module_id", sa.Integer, sa.ForeignKey("module.id"), primary_key=True),
        sa.Column("from_us", sa.BigInteger, primary_key=True),
        sa.Column("settled", sa.Text),
        sa.Column("body", sa.Text, nullable=False),
        sqlite_with_rowid=False,
    )
    op.create_index(
        "hour_settled",
        "hour",
        ["module_id", "settled", "from_us"],
        sqlite_where=sa.text("settled IS NOT NULL"),
        postgresql_where=sa.text("settled IS NOT NULL"),
    )

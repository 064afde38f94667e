"""Readings that people take by hand, and units replaced under the same name."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    op.create_table(
        "handheld",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("module_id", sa.Integer, sa.ForeignKey("module.id"), nullable=False),
        sa.Column("at_us", sa.BigInteger, nullable=False),
        sa.Column("given_us", sa.BigInteger, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("place", sa.Text, nullable=False),
        sa.Column("side", sa.Text),
        sa.Column("value", sa.Float, nullable=False),
        sa.Column("half_width", sa.Float, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
    )
    op.create_index("handheld_module", "handheld", ["module_id", "at_us"])
    op.add_column("module_service", sa.Column("replaced_us", sa.BigInteger))

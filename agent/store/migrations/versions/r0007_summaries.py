"""What is left of readings that are no longer kept."""

import sqlalchemy as sa
from alembic import op

from agent.store.schema import AsReceived

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    of_a_quarter = ("from_us", sa.BigInteger), ("signal_id", sa.Integer), ("mapping_id", sa.Integer)
    op.create_table(
        "summary",
        *(sa.Column(name, kind, primary_key=True) for name, kind in of_a_quarter),
        sa.Column("unit", sa.Text, primary_key=True),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("least", sa.Float, nullable=False),
        sa.Column("mean", sa.Float, nullable=False),
        sa.Column("most", sa.Float, nullable=False),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "tally",
        *(sa.Column(name, kind, primary_key=True) for name, kind in of_a_quarter),
        sa.Column("value", AsReceived, primary_key=True),
        sa.Column("number", sa.Integer, nullable=False),
        sqlite_with_rowid=False,
    )

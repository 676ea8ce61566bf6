"""Counts that the keeper says are the number that was put in."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column(
        "stock_count",
        sa.Column("is_start", sa.Boolean(), nullable=False, server_default=sa.false()),
    )


def downgrade() -> None:
    raise NotImplementedError("Records only go forward; restore a copy instead.")

"""The plan that a whip is made from, kept with it."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


# Not in batch mode: a table that SQLite builds anew forgets that its keys are given once only.
def upgrade() -> None:
    op.add_column("whips", sa.Column("plan", sa.JSON(), nullable=True))


def downgrade() -> None:
    op.drop_column("whips", "plan")

"""The lot that a cord of a layer was bought in."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


# Not in batch mode: a table that SQLite builds anew forgets that its keys are given once only.
def upgrade() -> None:
    op.add_column("layer_cords", sa.Column("lot", sa.String(), nullable=True))


def downgrade() -> None:
    op.drop_column("layer_cords", "lot")

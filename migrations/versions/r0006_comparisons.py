"""Ratings beside another whip: which one, and better, same or worse than it."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


# Not in batch mode: a table that SQLite builds anew forgets that its keys are given once only.
# In words of SQL, which both kinds of database take: alembic would add the key to a whip in a second step,
# which SQLite does not know.
def upgrade() -> None:
    op.execute(
        "ALTER TABLE rating_sessions ADD COLUMN compared_with_id INTEGER"
        " CONSTRAINT fk_rating_sessions_compared_with_id_whips REFERENCES whips (id)"
    )
    op.create_index("ix_rating_sessions_compared_with_id", "rating_sessions", ["compared_with_id"])
    op.add_column("scores", sa.Column("comparison", sa.String(), nullable=True))


def downgrade() -> None:
    # A score that is a comparison has no room in the older tables: it is not one that was not tried.
    op.execute("DELETE FROM scores WHERE comparison IS NOT NULL")
    op.drop_column("scores", "comparison")
    op.drop_index("ix_rating_sessions_compared_with_id", "rating_sessions")
    op.drop_column("rating_sessions", "compared_with_id")

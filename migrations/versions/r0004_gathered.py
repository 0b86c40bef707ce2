"""What a fit learns from each whip, worked out once and kept until the whip is written again."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "gathered",
        sa.Column("whip_id", sa.Integer(), nullable=False),
        sa.Column("made_by", sa.String(), nullable=False),
        sa.Column("columns", sa.LargeBinary(), nullable=False),
        sa.Column("lots", sa.JSON(), nullable=True),
        sa.Column("left_out", sa.JSON(), nullable=True),
        sa.ForeignKeyConstraint(
            ["whip_id"], ["whips.id"], name=op.f("fk_gathered_whip_id_whips"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("whip_id", name=op.f("pk_gathered")),
    )


def downgrade() -> None:
    op.drop_table("gathered")

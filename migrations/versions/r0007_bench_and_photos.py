"""Forms half filled in, long jobs, photos of whips."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "drafts",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("token", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("content", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_drafts")),
        sa.UniqueConstraint("token", name=op.f("uq_drafts_token")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_drafts_kind"), "drafts", ["kind"])
    op.create_table(
        "jobs",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("doing", sa.String(), nullable=False),
        sa.Column("done_share", sa.Double(), nullable=False),
        sa.Column("asked", sa.JSON(), nullable=False),
        sa.Column("result", sa.JSON(), nullable=True),
        sa.CheckConstraint(
            "state IN ('waiting', 'running', 'done', 'failed', 'cancelled', 'interrupted')",
            name=op.f("ck_jobs_state"),
        ),
        sa.CheckConstraint("done_share >= 0 AND done_share <= 1", name=op.f("ck_jobs_done_share")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_jobs")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_jobs_state"), "jobs", ["state"])
    op.create_table(
        "photo_contents",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("digest", sa.String(), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("whole", sa.LargeBinary(), nullable=False),
        sa.Column("small", sa.LargeBinary(), nullable=False),
        sa.CheckConstraint("width > 0 AND height > 0", name=op.f("ck_photo_contents_size")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo_contents")),
        sa.UniqueConstraint("digest", name=op.f("uq_photo_contents_digest")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "photos",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("whip_id", sa.Integer(), nullable=False),
        sa.Column("content_id", sa.Integer(), nullable=False),
        sa.Column("caption", sa.String(), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["whip_id"], ["whips.id"], name=op.f("fk_photos_whip_id_whips"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["content_id"], ["photo_contents.id"], name=op.f("fk_photos_content_id_photo_contents")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photos")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_photos_whip_id"), "photos", ["whip_id"])
    op.create_index(op.f("ix_photos_content_id"), "photos", ["content_id"])


def downgrade() -> None:
    op.drop_table("photos")
    op.drop_table("photo_contents")
    op.drop_table("jobs")
    op.drop_table("drafts")

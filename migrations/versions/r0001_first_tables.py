"""The first tables: makers, cords, whips, what was measured and judged, fits, history."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "cords",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("material", sa.String(), nullable=False),
        sa.Column("construction", sa.String(), nullable=False),
        sa.Column("diameter_mm", sa.Double(), nullable=True),
        sa.Column("pressed_mm", sa.Double(), nullable=True),
        sa.Column("flat_width_mm", sa.Double(), nullable=True),
        sa.Column("linear_density_g_per_m", sa.Double(), nullable=True),
        sa.Column("fibre_density_g_per_cm3", sa.Double(), nullable=True),
        sa.Column("supplier", sa.String(), nullable=True),
        sa.Column("price_per_m", sa.Double(), nullable=True),
        sa.Column("notes", sa.String(), nullable=True),
        sa.Column("typed", sa.JSON(), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("diameter_mm > 0", name=op.f("ck_cords_diameter")),
        sa.CheckConstraint("linear_density_g_per_m > 0", name=op.f("ck_cords_linear_density")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cords")),
        sa.UniqueConstraint("name", name=op.f("uq_cords_name")),
    )
    op.create_table(
        "fits",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("code_version", sa.String(), nullable=False),
        sa.Column("fingerprint", sa.String(), nullable=False),
        sa.Column("artefact", sa.JSON(), nullable=False),
        sa.Column("evidence", sa.JSON(), nullable=True),
        sa.Column("current", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fits")),
    )
    op.create_index(
        "uq_fits_current",
        "fits",
        ["current"],
        unique=True,
        sqlite_where=sa.text("current"),
        postgresql_where=sa.text("current"),
    )
    op.create_table(
        "history",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("actor", sa.String(), nullable=True),
        sa.Column("action", sa.String(), nullable=False),
        sa.Column("subject", sa.String(), nullable=True),
        sa.Column("before", sa.JSON(), nullable=True),
        sa.Column("after", sa.JSON(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_history")),
    )
    op.create_index(op.f("ix_history_subject"), "history", ["subject"], unique=False)
    op.create_table(
        "makers",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_makers")),
        sa.UniqueConstraint("name", name=op.f("uq_makers_name")),
    )
    op.create_table(
        "cord_stock",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("cord_id", sa.Integer(), nullable=False),
        sa.Column("colour", sa.String(), nullable=True),
        sa.Column("lot", sa.String(), nullable=True),
        sa.Column("metres", sa.Double(), nullable=True),
        sa.Column("price_per_m", sa.Double(), nullable=True),
        sa.Column("notes", sa.String(), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["cord_id"], ["cords.id"], name=op.f("fk_cord_stock_cord_id_cords")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cord_stock")),
    )
    op.create_index(op.f("ix_cord_stock_cord_id"), "cord_stock", ["cord_id"], unique=False)
    op.create_table(
        "whips",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("label", sa.String(), nullable=False),
        sa.Column("maker_id", sa.Integer(), nullable=True),
        sa.Column("type", sa.String(), nullable=True),
        sa.Column("status", sa.String(), nullable=True),
        sa.Column("made_on", sa.Date(), nullable=True),
        sa.Column("build_number", sa.Integer(), nullable=True),
        sa.Column("datum", sa.String(), nullable=True),
        sa.Column("thong_length_mm", sa.Double(), nullable=True),
        sa.Column("quoted_length", sa.String(), nullable=True),
        sa.Column("handle_length_mm", sa.Double(), nullable=True),
        sa.Column("handle_diameter_mm", sa.Double(), nullable=True),
        sa.Column("foundation_known", sa.String(), nullable=True),
        sa.Column("foundation_diameter_mm", sa.Double(), nullable=True),
        sa.Column("foundation_to_mm", sa.Double(), nullable=True),
        sa.Column("foundation_material", sa.String(), nullable=True),
        sa.Column("foundation_typed", sa.JSON(), nullable=True),
        sa.Column("layers_complete", sa.Boolean(), nullable=True),
        sa.Column("finish", sa.JSON(), nullable=True),
        sa.Column("balance_at_mm", sa.Double(), nullable=True),
        sa.Column("balance_from", sa.String(), nullable=True),
        sa.Column("balance_how", sa.String(), nullable=True),
        sa.Column("balance_typed", sa.JSON(), nullable=True),
        sa.Column("hours", sa.Double(), nullable=True),
        sa.Column("fall", sa.String(), nullable=True),
        sa.Column("cracker", sa.String(), nullable=True),
        sa.Column("notes", sa.String(), nullable=True),
        sa.Column("typed", sa.JSON(), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("thong_length_mm > 0", name=op.f("ck_whips_thong_length")),
        sa.ForeignKeyConstraint(["maker_id"], ["makers.id"], name=op.f("fk_whips_maker_id_makers")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_whips")),
        sa.UniqueConstraint("label", name=op.f("uq_whips_label")),
    )
    op.create_index(op.f("ix_whips_maker_id"), "whips", ["maker_id"], unique=False)
    op.create_table(
        "cord_uses",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("whip_id", sa.Integer(), nullable=False),
        sa.Column("cord_id", sa.Integer(), nullable=False),
        sa.Column("metres", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["cord_id"], ["cords.id"], name=op.f("fk_cord_uses_cord_id_cords")),
        sa.ForeignKeyConstraint(
            ["whip_id"], ["whips.id"], name=op.f("fk_cord_uses_whip_id_whips"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cord_uses")),
    )
    op.create_index(op.f("ix_cord_uses_cord_id"), "cord_uses", ["cord_id"], unique=False)
    op.create_index(op.f("ix_cord_uses_whip_id"), "cord_uses", ["whip_id"], unique=False)
    op.create_table(
        "layers",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("whip_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("rest", sa.String(), nullable=True),
        sa.Column("fate", sa.String(), nullable=True),
        sa.Column("fate_length_mm", sa.Double(), nullable=True),
        sa.Column("fate_gutted", sa.Boolean(), nullable=True),
        sa.Column("fate_until_mm", sa.Double(), nullable=True),
        sa.Column("diameter_mm", sa.Double(), nullable=True),
        sa.Column("thickness_mm", sa.Double(), nullable=True),
        sa.Column("from_mm", sa.Double(), nullable=True),
        sa.Column("to_mm", sa.Double(), nullable=True),
        sa.Column("what", sa.String(), nullable=True),
        sa.Column("notes", sa.String(), nullable=True),
        sa.Column("typed", sa.JSON(), nullable=True),
        sa.ForeignKeyConstraint(
            ["whip_id"], ["whips.id"], name=op.f("fk_layers_whip_id_whips"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_layers")),
        sa.UniqueConstraint("whip_id", "position", name=op.f("uq_layers_whip_id_position")),
    )
    op.create_table(
        "rating_sessions",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("whip_id", sa.Integer(), nullable=False),
        sa.Column("by", sa.String(), nullable=True),
        sa.Column("on", sa.Date(), nullable=True),
        sa.Column("hours_of_use", sa.Double(), nullable=True),
        sa.Column("fall", sa.String(), nullable=True),
        sa.Column("cracker", sa.String(), nullable=True),
        sa.Column("thong_handle", sa.Double(), nullable=True),
        sa.Column("limp_stiff", sa.Double(), nullable=True),
        sa.Column("slow_quick", sa.Double(), nullable=True),
        sa.Column("notes", sa.String(), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("limp_stiff BETWEEN -2 AND 2", name=op.f("ck_rating_sessions_limp_stiff")),
        sa.CheckConstraint("slow_quick BETWEEN -2 AND 2", name=op.f("ck_rating_sessions_slow_quick")),
        sa.CheckConstraint("thong_handle BETWEEN -2 AND 2", name=op.f("ck_rating_sessions_thong_handle")),
        sa.ForeignKeyConstraint(
            ["whip_id"], ["whips.id"], name=op.f("fk_rating_sessions_whip_id_whips"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rating_sessions")),
    )
    op.create_index(op.f("ix_rating_sessions_whip_id"), "rating_sessions", ["whip_id"], unique=False)
    op.create_table(
        "readings",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("whip_id", sa.Integer(), nullable=False),
        sa.Column("at_mm", sa.Double(), nullable=True),
        sa.Column("place", sa.String(), nullable=True),
        sa.Column("diameter_mm", sa.Double(), nullable=True),
        sa.Column("girth_mm", sa.Double(), nullable=True),
        sa.Column("tape_mm", sa.Double(), nullable=True),
        sa.Column("after_layer", sa.Integer(), nullable=True),
        sa.Column("condition", sa.String(), nullable=True),
        sa.Column("doubtful", sa.Boolean(), nullable=False),
        sa.Column("on", sa.Date(), nullable=True),
        sa.Column("notes", sa.String(), nullable=True),
        sa.Column("typed", sa.JSON(), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("(diameter_mm IS NULL) <> (girth_mm IS NULL)", name=op.f("ck_readings_one_size")),
        sa.CheckConstraint("at_mm IS NOT NULL OR place IS NOT NULL", name=op.f("ck_readings_station")),
        sa.CheckConstraint("diameter_mm > 0", name=op.f("ck_readings_diameter")),
        sa.CheckConstraint("girth_mm > 0", name=op.f("ck_readings_girth")),
        sa.ForeignKeyConstraint(
            ["whip_id"], ["whips.id"], name=op.f("fk_readings_whip_id_whips"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_readings")),
    )
    op.create_index(op.f("ix_readings_whip_id"), "readings", ["whip_id"], unique=False)
    op.create_table(
        "turn_lengths",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("whip_id", sa.Integer(), nullable=False),
        sa.Column("at_mm", sa.Double(), nullable=False),
        sa.Column("turn_mm", sa.Double(), nullable=False),
        sa.Column("after_layer", sa.Integer(), nullable=True),
        sa.Column("typed", sa.JSON(), nullable=True),
        sa.CheckConstraint("turn_mm > 0", name=op.f("ck_turn_lengths_turn")),
        sa.ForeignKeyConstraint(
            ["whip_id"], ["whips.id"], name=op.f("fk_turn_lengths_whip_id_whips"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_turn_lengths")),
    )
    op.create_index(op.f("ix_turn_lengths_whip_id"), "turn_lengths", ["whip_id"], unique=False)
    op.create_table(
        "weights",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("whip_id", sa.Integer(), nullable=False),
        sa.Column("weight_g", sa.Double(), nullable=False),
        sa.Column("with_parts", sa.JSON(), nullable=True),
        sa.Column("after_layer", sa.Integer(), nullable=True),
        sa.Column("typed", sa.JSON(), nullable=True),
        sa.CheckConstraint("weight_g > 0", name=op.f("ck_weights_weight")),
        sa.ForeignKeyConstraint(
            ["whip_id"], ["whips.id"], name=op.f("fk_weights_whip_id_whips"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weights")),
    )
    op.create_index(op.f("ix_weights_whip_id"), "weights", ["whip_id"], unique=False)
    op.create_table(
        "layer_cords",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("layer_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("cord_id", sa.Integer(), nullable=False),
        sa.Column("share", sa.Double(), nullable=False),
        sa.Column("letter", sa.String(), nullable=True),
        sa.ForeignKeyConstraint(["cord_id"], ["cords.id"], name=op.f("fk_layer_cords_cord_id_cords")),
        sa.ForeignKeyConstraint(
            ["layer_id"], ["layers.id"], name=op.f("fk_layer_cords_layer_id_layers"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_layer_cords")),
        sa.UniqueConstraint("layer_id", "position", name=op.f("uq_layer_cords_layer_id_position")),
    )
    op.create_index(op.f("ix_layer_cords_cord_id"), "layer_cords", ["cord_id"], unique=False)
    op.create_table(
        "scores",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("quality", sa.String(), nullable=False),
        sa.Column("score", sa.Double(), nullable=True),
        sa.CheckConstraint("score BETWEEN 1 AND 10", name=op.f("ck_scores_score")),
        sa.ForeignKeyConstraint(
            ["session_id"],
            ["rating_sessions.id"],
            name=op.f("fk_scores_session_id_rating_sessions"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_scores")),
        sa.UniqueConstraint("session_id", "quality", name=op.f("uq_scores_session_id_quality")),
    )
    op.create_table(
        "steps",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("layer_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("place_kind", sa.String(), nullable=False),
        sa.Column("place_low_mm", sa.Double(), nullable=False),
        sa.Column("place_high_mm", sa.Double(), nullable=False),
        sa.Column("pattern", sa.String(), nullable=True),
        sa.Column("fate", sa.String(), nullable=True),
        sa.Column("fate_length_mm", sa.Double(), nullable=True),
        sa.Column("fate_gutted", sa.Boolean(), nullable=True),
        sa.Column("fate_until_mm", sa.Double(), nullable=True),
        sa.CheckConstraint("place_low_mm <= place_high_mm", name=op.f("ck_steps_place")),
        sa.ForeignKeyConstraint(
            ["layer_id"], ["layers.id"], name=op.f("fk_steps_layer_id_layers"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_steps")),
        sa.UniqueConstraint("layer_id", "position", name=op.f("uq_steps_layer_id_position")),
    )
    op.create_table(
        "step_counts",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("step_id", sa.Integer(), nullable=False),
        sa.Column("cord_position", sa.Integer(), nullable=False),
        sa.Column("low", sa.Double(), nullable=False),
        sa.Column("high", sa.Double(), nullable=False),
        sa.CheckConstraint("low >= 0 AND low <= high", name=op.f("ck_step_counts_span")),
        sa.ForeignKeyConstraint(
            ["step_id"], ["steps.id"], name=op.f("fk_step_counts_step_id_steps"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_step_counts")),
        sa.UniqueConstraint("step_id", "cord_position", name=op.f("uq_step_counts_step_id_cord_position")),
    )


def downgrade() -> None:
    op.drop_table("step_counts")
    op.drop_table("steps")
    op.drop_table("scores")
    op.drop_index(op.f("ix_layer_cords_cord_id"), table_name="layer_cords")
    op.drop_table("layer_cords")
    op.drop_index(op.f("ix_weights_whip_id"), table_name="weights")
    op.drop_table("weights")
    op.drop_index(op.f("ix_turn_lengths_whip_id"), table_name="turn_lengths")
    op.drop_table("turn_lengths")
    op.drop_index(op.f("ix_readings_whip_id"), table_name="readings")
    op.drop_table("readings")
    op.drop_index(op.f("ix_rating_sessions_whip_id"), table_name="rating_sessions")
    op.drop_table("rating_sessions")
    op.drop_table("layers")
    op.drop_index(op.f("ix_cord_uses_whip_id"), table_name="cord_uses")
    op.drop_index(op.f("ix_cord_uses_cord_id"), table_name="cord_uses")
    op.drop_table("cord_uses")
    op.drop_index(op.f("ix_whips_maker_id"), table_name="whips")
    op.drop_table("whips")
    op.drop_index(op.f("ix_cord_stock_cord_id"), table_name="cord_stock")
    op.drop_table("cord_stock")
    op.drop_table("makers")
    op.drop_index(op.f("ix_history_subject"), table_name="history")
    op.drop_table("history")
    op.drop_index(
        "uq_fits_current",
        table_name="fits",
        sqlite_where=sa.text("current"),
        postgresql_where=sa.text("current"),
    )
    op.drop_table("fits")
    op.drop_table("cords")

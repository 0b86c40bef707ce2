"""Bringing databases up to date: made when missing, copied and migrated when older, refused when newer.

A revision to come is put beside the real ones. It rebuilds a table that others point to, which on SQLite
is where rows are lost when foreign keys are not looked after.
"""

import multiprocessing
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Engine, MetaData, inspect, select, text
from sqlalchemy.orm import Session

import plaitlog.migrations
from plaitlog.models.errors import DatabaseError, NewerDatabaseError
from plaitlog.models.tables import Base, DraftRow, JobRow, MakerRow, PhotoContentRow, PhotoRow, WhipRow
from plaitlog.service import migrate, revisions
from plaitlog.service.backups.files import place_of
from plaitlog.service.database import open_engine, reading, writing
from plaitlog.service.migrate import HEAD, bring_up_to_date, ready_engine
from plaitlog.service.revisions import alembic_config, migrate_to
from plaitlog.service.usecases.importing import take_records
from tests.usecases.examples import WORKSHOP

TO_COME = """
import sqlalchemy as sa
from alembic import op

revision = "to_come"
down_revision = "{head}"


def rebuilt():
    on_sqlite = op.get_bind().dialect.name == "sqlite"
    return op.batch_alter_table("whips", recreate="always" if on_sqlite else "auto")


def upgrade():
    with rebuilt() as table:
        table.add_column(sa.Column("mood", sa.String(), nullable=True))


def downgrade():
    with rebuilt() as table:
        table.drop_column("mood")
"""


@pytest.fixture
def a_revision_to_come(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Call it, and the program is one revision further on."""

    def come() -> None:
        folder = tmp_path / "migrations"
        shutil.copytree(Path(plaitlog.migrations.__file__).parent, folder)
        (folder / "versions" / "to_come.py").write_text(TO_COME.format(head=HEAD))

        def further_on() -> Config:
            config = Config()
            config.set_main_option("script_location", str(folder))
            return config

        monkeypatch.setattr(revisions, "alembic_config", further_on)
        monkeypatch.setattr(migrate, "HEAD", "to_come")

    return come


def contents(engine: Engine) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table but the one that names the revision."""
    tables = MetaData()
    with engine.connect() as connection:
        tables.reflect(connection)
        return {
            name: sorted(map(tuple, connection.execute(select(*table.c))), key=repr)
            for name, table in tables.tables.items()
            if name != "alembic_version"
        }


def test_a_missing_database_is_made_with_its_folder(tmp_path: Path) -> None:
    file = tmp_path / "deep" / "down" / "whips.db"
    engine, done = ready_engine(str(file))
    assert str(done) == f"made the database {file}"
    assert bring_up_to_date(engine) is None
    with reading(engine) as session:
        assert session.scalars(select(MakerRow)).all() == []
    engine.dispose()


def test_it_is_made_once_however_many_start_at_the_same_time(empty_database: str) -> None:
    context = multiprocessing.get_context("spawn")
    with context.Pool(4) as pool:
        pool.map(_kind_of_start, [None] * 8)  # every process has loaded what it needs
        found = pool.map(_kind_of_start, [empty_database] * 4, chunksize=1)
    assert sorted(found) == ["created", "nothing", "nothing", "nothing"]


def _kind_of_start(database: str | None) -> str:
    if database is None:
        time.sleep(0.2)
        return ""
    engine, done = ready_engine(database)
    engine.dispose()
    return "nothing" if done is None else done.kind


def test_an_empty_file_is_taken_for_a_missing_database(tmp_path: Path) -> None:
    file = tmp_path / "whips.db"
    file.touch()
    engine, done = ready_engine(str(file))
    assert done is not None
    assert done.kind == "created"
    engine.dispose()


def test_a_newer_database_is_refused_and_left_alone(engine: Engine) -> None:
    with engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = 'of 2031'"))
    before = contents(engine)
    with pytest.raises(NewerDatabaseError, match=r"newer version \(revision of 2031.*update the program"):
        bring_up_to_date(engine)
    assert contents(engine) == before


def test_a_database_of_another_program_is_refused_and_left_alone(blank_engine: Engine) -> None:
    engine = blank_engine
    with engine.begin() as connection:
        connection.execute(text("CREATE TABLE recipes (id INTEGER)"))
    with pytest.raises(DatabaseError, match=r"tables of another program \(recipes"):
        bring_up_to_date(engine)
    assert inspect(engine).get_table_names() == ["recipes"]


def test_an_older_file_is_copied_first_and_then_migrated(
    tmp_path: Path, a_revision_to_come: Callable[[], None]
) -> None:
    file = tmp_path / "whips.db"
    engine, _ = ready_engine(str(file))
    with writing(engine) as session:
        take_records(session, WORKSHOP)
    before = contents(engine)
    a_revision_to_come()
    done = bring_up_to_date(engine, place_of(engine.url))
    assert done is not None
    assert (done.kind, done.old) == ("migrated", HEAD)
    assert done.backup is not None
    assert done.backup.parent == tmp_path / "backups"
    assert f"revision-{HEAD}-" in done.backup.name
    assert str(done.backup) in str(done)
    backup = open_engine(str(done.backup))
    assert contents(backup) == before
    with closing(sqlite3.connect(done.backup)) as copy:
        assert copy.execute("SELECT version_num FROM alembic_version").fetchone() == (HEAD,)
        assert copy.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert bring_up_to_date(engine) is None
    engine.dispose()
    backup.dispose()


def lay_on_the_bench(session: Session) -> None:
    """A draft, a job and a photo, which no record holds."""
    session.add(DraftRow(token="d1", kind="whip", title="2026-014", content={"label": "2026-014"}))
    session.add(JobRow(kind="fit", state="done", doing="fitted", done_share=1.0, asked={}, result={"fit": 1}))
    content = PhotoContentRow(digest="0a", width=2, height=1, whole=b"\xff\xd8", small=b"\xff")
    session.add(content)
    session.flush()
    whip = session.scalars(select(WhipRow.id)).first()
    session.add(PhotoRow(whip_id=whip, content_id=content.id, caption="the point"))


def test_rows_survive_up_down_and_up(engine: Engine, a_revision_to_come: Callable[[], None]) -> None:
    """In the rebuilt table and in those that point to it."""
    with writing(engine) as session:
        take_records(session, WORKSHOP)
        lay_on_the_bench(session)
    before = contents(engine)
    assert all(before[table] for table in Base.metadata.tables if table != "fits")
    a_revision_to_come()
    for _ in range(2):
        bring_up_to_date(engine)
        with migrate.migrating_connection(engine) as connection, connection.begin():
            config = revisions.alembic_config()
            config.attributes["connection"] = connection
            command.downgrade(config, HEAD)
        assert contents(engine) == before


@pytest.mark.parametrize(
    "revision", [s.revision for s in ScriptDirectory.from_config(alembic_config()).walk_revisions()]
)
def test_a_migration_that_fails_leaves_the_database_as_it_was(
    blank_engine: Engine, revision: str, a_revision_to_come: Callable[[], None], tmp_path: Path
) -> None:
    engine = blank_engine
    with engine.begin() as connection:
        migrate_to(connection, revision)
    before = inspect(engine).get_table_names()
    a_revision_to_come()
    broken = tmp_path / "migrations" / "versions" / "to_come.py"
    broken.write_text(
        broken.read_text().replace("def downgrade", "    raise OSError('power cut')\n\n\ndef downgrade")
    )
    with pytest.raises(OSError, match="power cut"):
        bring_up_to_date(engine)
    assert sorted(inspect(engine).get_table_names()) == sorted(before)
    assert "mood" not in {column["name"] for column in inspect(engine).get_columns("whips")}


def test_nothing_heavy_is_loaded_where_there_is_nothing_to_do(tmp_path: Path) -> None:
    file = tmp_path / "whips.db"
    ready_engine(str(file))[0].dispose()
    program = (
        "import sys\n"
        "from plaitlog.service.migrate import ready_engine\n"
        f"assert ready_engine({str(file)!r})[1] is None\n"
        "assert 'alembic' not in sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", program], check=True)

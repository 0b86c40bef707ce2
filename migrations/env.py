"""Run by alembic: migrates over the live connection it is handed, or prints SQL (``--sql``)."""

from alembic import context
from sqlalchemy import Engine

from plaitlog.models.tables import Base, Derived
from plaitlog.service.database import database_url, open_engine
from plaitlog.service.settings import Settings

target_metadata = [Base.metadata, Derived.metadata]


def run(**where: object) -> None:
    context.configure(
        target_metadata=target_metadata,
        render_as_batch=True,
        compare_type=True,
        compare_server_default=True,
        **where,  # type: ignore[arg-type]
    )
    with context.begin_transaction():
        context.run_migrations()


given = context.config.attributes.get("connection")
if context.is_offline_mode():
    run(url=database_url(Settings().database), literal_binds=True)
elif given is None or isinstance(given, Engine):
    # A contributor's `alembic` command: the database is the one the program itself would use.
    with (given or open_engine(Settings().database)).connect() as own:
        if own.dialect.name == "sqlite":  # a table that is rebuilt must take nothing along
            driver = own.connection.dbapi_connection
            assert driver is not None
            driver.execute("PRAGMA foreign_keys = 0")
            own.detach()
        with own.begin():
            run(connection=own)
else:
    run(connection=given)

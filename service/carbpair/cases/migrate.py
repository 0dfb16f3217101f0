"""Brings a database to the newest schema version with Alembic."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

from carbpair.cases.database import Database


def upgrade(database: Database) -> None:
    """Run the missing migrations in one transaction; a database that is up to date is left alone.

    Raises RuntimeError when the database was written by a newer version of carbpair.
    """
    config = _config()
    scripts = ScriptDirectory.from_config(config)
    known = {script.revision for script in scripts.walk_revisions()}
    with database.read() as connection:
        current = MigrationContext.configure(connection).get_current_revision()
    if current is not None and current not in known:
        raise RuntimeError(
            f"the database is at schema version {current}, which this carbpair does not know: "
            "install the version that wrote it, or a newer one"
        )
    if current == scripts.get_current_head():
        return
    with database.write() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "head")


def current_version(database: Database) -> str | None:
    """Return the schema version of the database, or None when it is empty."""
    with database.read() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def newest_version() -> str | None:
    """Return the schema version that this carbpair makes."""
    return ScriptDirectory.from_config(_config()).get_current_head()


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    return config

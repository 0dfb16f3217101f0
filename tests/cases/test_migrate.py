import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext

from carbpair.cases import migrate, schema
from carbpair.cases.database import Database
from carbpair.cases.workspace import Workspace


def _ours(difference: object) -> bool:
    # Procrastinate's tables share the database on PostgreSQL.
    return "procrastinate" not in repr(difference)


def test_migrations_build_exactly_the_declared_tables(workspace: Workspace) -> None:
    # Alembic's own comparison is the outside check.
    with workspace.database.read() as connection:
        context = MigrationContext.configure(connection)
        differences = compare_metadata(context, schema.metadata)
    assert [one for one in differences if _ours(one)] == []


def test_second_start_changes_nothing(workspace: Workspace) -> None:
    before = migrate.current_version(workspace.database)
    migrate.upgrade(workspace.database)
    assert before is not None
    assert migrate.current_version(workspace.database) == before


def test_database_of_a_newer_version_is_refused(workspace: Workspace) -> None:
    with workspace.database.write() as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(RuntimeError, match="9999"):
        migrate.upgrade(workspace.database)


def test_in_memory_database_is_refused() -> None:
    with pytest.raises(ValueError, match="file"):
        Database("sqlite://")

"""Removes the files of deleted cases and photos, again and again until they are gone."""

import time
from collections.abc import Iterable

import sqlalchemy as sa

from carbpair.cases import schema
from carbpair.cases.database import Database
from carbpair.cases.photo_store import PhotoStore

# A photo's file is written before its row; younger strays may still get their row.
STRAY_AGE_SECONDS = 3600.0


def doom(connection: sa.Connection, keys: Iterable[str]) -> None:
    """Mark store keys for removal in the same transaction that drops the rows naming them."""
    now = time.time()
    rows = [{"store_key": key, "doomed_at": now} for key in keys]
    if rows:
        connection.execute(schema.doomed_file.insert(), rows)


def sweep(database: Database, store: PhotoStore) -> int:
    """Remove all doomed files; returns how many. Safe to run at any time, from any process."""
    with database.read() as connection:
        keys = list(connection.scalars(sa.select(schema.doomed_file.c.store_key)))
    for key in keys:
        store.delete(key)
        with database.write() as connection:
            table = schema.doomed_file
            connection.execute(table.delete().where(table.c.store_key == key))
    return len(keys)

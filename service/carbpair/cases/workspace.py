"""Everything that a process of the service needs, opened from the settings."""

from dataclasses import dataclass

from carbpair.cases import migrate
from carbpair.cases.database import Database
from carbpair.cases.lease_queue import LeaseQueue
from carbpair.cases.object_photo_store import ObjectPhotoStore
from carbpair.cases.photo_store import DiskPhotoStore, PhotoStore
from carbpair.cases.queue import Queue
from carbpair.cases.settings import ServiceSettings


@dataclass(frozen=True)
class Workspace:
    """Database, photo store and queue of one installation."""

    settings: ServiceSettings
    database: Database
    store: PhotoStore
    queue: Queue

    def close(self) -> None:
        """Close the database's connections."""
        self.database.close()


def open_workspace(settings: ServiceSettings) -> Workspace:
    """Open, and on the first start make, what the settings name; brings the schema up to date."""
    settings.data_dir.mkdir(parents=True, exist_ok=True, mode=0o700)
    database = Database(settings.resolved_database_url())
    migrate.upgrade(database)
    store: PhotoStore
    if settings.photo_store_url:
        store = ObjectPhotoStore.from_url(settings.photo_store_url)
    else:
        store = DiskPhotoStore(settings.data_dir / "photos")
    return Workspace(settings, database, store, _open_queue(database, settings))


def _open_queue(database: Database, settings: ServiceSettings) -> Queue:
    if database.is_sqlite:
        return LeaseQueue(
            database,
            lease_seconds=settings.lease_seconds,
            max_attempts=settings.max_attempts,
        )
    # Imported late: Procrastinate is an optional extra.
    from carbpair.cases.procrastinate_queue import ProcrastinateQueue

    return ProcrastinateQueue(
        database, lease_seconds=settings.lease_seconds, max_attempts=settings.max_attempts
    )

"""Settings of the service, read from ``CARBPAIR_…`` environment variables."""

import os
import secrets
from pathlib import Path
from typing import Literal, Self

from pydantic import Field, SecretStr, model_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

from carbpair.photo.limits import MAX_BYTES, MAX_MEGAPIXELS

MIN_SECRET_LENGTH = 32
# Secrets that people copy from examples; a service on a network must not start with one.
KNOWN_SECRETS = frozenset({"changeme", "change-me", "secret", "default", "password", "carbpair"})


def default_data_dir() -> Path:
    """Return the folder for the embedded database and the photos (XDG base directory rules)."""
    base = os.environ.get("XDG_DATA_HOME") or str(Path.home() / ".local" / "share")
    return Path(base) / "carbpair"


class ServiceSettings(BaseSettings):
    """Everything that an installation can set; all have defaults that work on one machine.

    Sizes are in bytes, times in seconds unless the name says otherwise.
    """

    model_config = SettingsConfigDict(env_prefix="CARBPAIR_", extra="ignore", frozen=True)

    environment: Literal["development", "production"] = "development"
    secret: SecretStr | None = None
    data_dir: Path = Field(default_factory=default_data_dir)
    # SQLAlchemy URL; None means SQLite in data_dir. PostgreSQL: postgresql+psycopg://…
    database_url: str | None = None
    # None means files under data_dir; otherwise a URL that obstore knows, e.g. s3://bucket/prefix
    photo_store_url: str | None = None
    keep_originals: bool = False
    public_url: str | None = None
    catalogue: Path | None = None

    max_photo_bytes: int = Field(default=MAX_BYTES, ge=1)
    max_photo_pixels: int = Field(default=round(MAX_MEGAPIXELS * 1e6), ge=1)
    max_photos_per_case: int = Field(default=40, ge=1)
    max_photos_per_inspection: int = Field(default=12, ge=1)
    # Longest side of the stored copy; flange bolt holes must stay measurable on whole-bay shots.
    stored_photo_side: int = Field(default=6000, ge=640)

    workers: int = Field(default=1, ge=0)
    queue_limit: int = Field(default=400, ge=1)
    # How long a killed worker's job lies idle; a live one renews its lease four times as often.
    lease_seconds: float = Field(default=10.0, gt=0)
    max_attempts: int = Field(default=3, ge=1)
    one_shot_wait_seconds: float = Field(default=120.0, gt=0)

    link_days: float = Field(default=14.0, gt=0)
    session_hours: float = Field(default=12.0, gt=0)
    upload_hours: float = Field(default=48.0, gt=0)
    # None: open in development, login or token needed in production.
    open_inspect: bool | None = None
    rate_limits: bool = True
    link_rate: str = "240/minute"
    address_rate: str = "600/minute"
    inspect_rate: str = "60/minute"
    login_rate: str = "10/minute"

    @model_validator(mode="after")
    def _needs_real_secret(self) -> Self:
        if self.environment == "production":
            check_secret(self.secret)
        return self

    @property
    def inspect_is_open(self) -> bool:
        """Whether ``POST /inspect`` answers without a login."""
        if self.open_inspect is None:
            return self.environment == "development"
        return self.open_inspect

    def resolved_database_url(self) -> str:
        """Return the SQLAlchemy URL in force."""
        return self.database_url or f"sqlite:///{(self.data_dir / 'carbpair.sqlite3').as_posix()}"

    def resolved_secret(self) -> bytes:
        """Return the signing secret; in development one is made at random and kept in data_dir."""
        if self.secret is not None:
            return self.secret.get_secret_value().encode()
        return _local_secret(self.data_dir / "secret")


def check_secret(secret: SecretStr | None) -> None:
    """Raise ValueError with the remedy unless `secret` is set, long and not a known example."""
    remedy = (
        "set CARBPAIR_SECRET to at least 32 random characters, for example the output of "
        "python3 -c 'import secrets; print(secrets.token_urlsafe(48))'"
    )
    if secret is None:
        raise ValueError(f"no secret is set: {remedy}")
    text = secret.get_secret_value()
    if text.strip().lower() in KNOWN_SECRETS or len(set(text)) < 10:
        raise ValueError(f"the secret can be guessed: {remedy}")
    if len(text) < MIN_SECRET_LENGTH:
        raise ValueError(f"the secret is shorter than {MIN_SECRET_LENGTH} characters: {remedy}")


def _local_secret(path: Path) -> bytes:
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_bytes()
    with os.fdopen(handle, "wb") as file:
        file.write(secrets.token_urlsafe(48).encode())
    return path.read_bytes()

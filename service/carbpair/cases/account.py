"""Logins of the workshop's people: Argon2id passwords, sessions and API tokens."""

import time
from dataclasses import dataclass
from functools import lru_cache

import sqlalchemy as sa
from argon2 import PasswordHasher
from argon2.exceptions import Argon2Error

from carbpair.cases import audit, schema
from carbpair.cases.error import ConflictError, InvalidError, NotFoundError
from carbpair.cases.identifier import digest, new_id, new_token

# NIST SP 800-63B: length counts, composition rules do not.
MIN_PASSWORD = 12
MAX_PASSWORD = 256
RENEW_AFTER = 0.1  # fraction of a session's life after which using it prolongs it

_hasher = PasswordHasher()


@lru_cache(maxsize=1)
def _dummy_hash() -> str:
    """Checked when the name is unknown, so that the answer takes as long either way.

    Made at the first login, not at each start of a process: it costs as much as a login.
    """
    return _hasher.hash("no such person")


@dataclass(frozen=True)
class User:
    """A person who may log in at the desk."""

    id: str
    name: str


@dataclass(frozen=True)
class Session:
    """A live login; `kind` is ``cookie`` or ``bearer``."""

    digest: str
    user: User
    kind: str
    expires_at: float


def create_user(connection: sa.Connection, actor: str, name: str, password: str) -> User:
    """Add a login; raises InvalidError or ConflictError."""
    name = name.replace("\x00", "").strip()
    if not 1 <= len(name) <= 80:
        raise InvalidError("a name has 1 to 80 characters")
    _check_password(password)
    table = schema.user
    if connection.scalar(sa.select(table.c.id).where(table.c.name == name)) is not None:
        raise ConflictError("this name is taken", "choose another")
    user = User(new_id(), name)
    connection.execute(
        table.insert().values(
            id=user.id,
            name=name,
            password_hash=_hasher.hash(password),
            disabled=False,
            created_at=time.time(),
        )
    )
    audit.record(connection, actor, "user_created", user=user.id)
    return user


def has_users(connection: sa.Connection) -> bool:
    """Say whether anyone can log in yet."""
    return connection.scalar(sa.select(schema.user.c.id).limit(1)) is not None


def check_password(connection: sa.Connection, name: str, password: str) -> User | None:
    """Return the user when name and password are right, else None."""
    table = schema.user
    row = (
        connection.execute(sa.select(table).where(table.c.name == name.strip())).mappings().first()
    )
    stored = row["password_hash"] if row is not None else _dummy_hash()
    try:
        _hasher.verify(stored, password[: MAX_PASSWORD + 1])
    except Argon2Error:
        return None
    if row is None or row["disabled"]:
        return None
    return User(row["id"], row["name"])


def disable(connection: sa.Connection, actor: str, name: str) -> None:
    """End a person's access at once: no more logins, all sessions and tokens dropped."""
    table = schema.user
    user_id = connection.scalar(sa.select(table.c.id).where(table.c.name == name))
    if user_id is None:
        raise NotFoundError(f"there is no user {name!r}")
    connection.execute(table.update().where(table.c.id == user_id).values(disabled=True))
    connection.execute(schema.session.delete().where(schema.session.c.user_id == user_id))
    audit.record(connection, actor, "user_disabled", user=user_id)


def open_session(
    connection: sa.Connection, user: User, seconds: float, *, kind: str = "cookie", label: str = ""
) -> str:
    """Log `user` in; returns the token for the cookie or the Authorization header."""
    token = new_token()
    now = time.time()
    table = schema.session
    connection.execute(table.delete().where(table.c.expires_at < now))
    connection.execute(
        table.insert().values(
            digest=digest(token),
            user_id=user.id,
            kind=kind,
            label=label[:80],
            created_at=now,
            expires_at=now + seconds,
        )
    )
    audit.record(connection, user.name, "token_created" if kind == "bearer" else "logged_in")
    return token


def find_session(connection: sa.Connection, token: str, kind: str) -> Session | None:
    """Return the live session of `token`, or None."""
    table, people = schema.session, schema.user
    row = connection.execute(
        sa.select(table.c.digest, table.c.kind, table.c.expires_at, people.c.id, people.c.name)
        .join(people, people.c.id == table.c.user_id)
        .where(
            table.c.digest == digest(token),
            table.c.kind == kind,
            table.c.expires_at > time.time(),
            people.c.disabled.is_(False),
        )
    ).first()
    if row is None:
        return None
    return Session(row.digest, User(row.id, row.name), row.kind, row.expires_at)


def needs_renewal(session: Session, seconds: float) -> bool:
    """Say whether enough of a cookie session's life has passed to prolong it."""
    left = session.expires_at - time.time()
    return session.kind == "cookie" and left < seconds * (1 - RENEW_AFTER)


def renew(connection: sa.Connection, session: Session, seconds: float) -> None:
    """Let a session last another `seconds` from now."""
    table = schema.session
    connection.execute(
        table.update()
        .where(table.c.digest == session.digest)
        .values(expires_at=time.time() + seconds)
    )


def close_session(connection: sa.Connection, session: Session) -> None:
    """Log out."""
    connection.execute(schema.session.delete().where(schema.session.c.digest == session.digest))
    audit.record(connection, session.user.name, "logged_out")


def _check_password(password: str) -> None:
    if len(password) < MIN_PASSWORD:
        raise InvalidError(
            f"the password has fewer than {MIN_PASSWORD} characters", "a short sentence is good"
        )
    if len(password) > MAX_PASSWORD:
        raise InvalidError(f"the password has more than {MAX_PASSWORD} characters")
    if len(set(password)) < 5:
        raise InvalidError("the password repeats few characters", "choose one harder to guess")

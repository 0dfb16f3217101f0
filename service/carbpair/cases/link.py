"""Links for customers: unguessable, for one case only, ending by themselves, revocable."""

import time
from dataclasses import dataclass

import sqlalchemy as sa

from carbpair.cases import audit, case, schema
from carbpair.cases.error import GoneError, NotFoundError
from carbpair.cases.identifier import digest, new_token


@dataclass(frozen=True)
class Link:
    """A link as the desk sees it; the token itself is shown once and never stored."""

    digest: str
    hint: str
    case_id: str
    created_at: float
    expires_at: float
    revoked_at: float | None

    def is_live(self, now: float | None = None) -> bool:
        """Say whether the link still opens its case."""
        return self.revoked_at is None and self.expires_at > (now or time.time())


def create(connection: sa.Connection, actor: str, case_id: str, seconds: float) -> tuple[str, Link]:
    """Make a link that ends after `seconds`; returns its token and its row."""
    case.get(connection, case_id)
    token = new_token()
    now = time.time()
    link = Link(digest(token), token[-4:], case_id, now, now + seconds, None)
    connection.execute(schema.link.insert().values(**vars(link)))
    audit.record(connection, actor, "link_created", case_id, hint=link.hint)
    return token, link


def resolve(connection: sa.Connection, token: str) -> Link:
    """Return the live link of `token`; raises NotFoundError or GoneError."""
    table = schema.link
    row = (
        connection.execute(sa.select(table).where(table.c.digest == digest(token)))
        .mappings()
        .first()
    )
    if row is None:
        raise NotFoundError("this link is not known", "check that it was copied whole")
    link = Link(**row)
    if not link.is_live():
        raise GoneError("this link has ended", "ask the workshop for a new one")
    return link


def of_case(connection: sa.Connection, case_id: str) -> list[Link]:
    """Return all links ever made for a case, newest first."""
    table = schema.link
    rows = connection.execute(
        sa.select(table).where(table.c.case_id == case_id).order_by(table.c.created_at.desc())
    )
    return [Link(**row) for row in rows.mappings()]


def revoke(connection: sa.Connection, actor: str, case_id: str, link_digest: str) -> None:
    """End a link now; revoking twice is no error."""
    table = schema.link
    here = (table.c.case_id == case_id) & (table.c.digest == link_digest)
    if connection.scalar(sa.select(table.c.digest).where(here)) is None:
        raise NotFoundError("this case has no such link")
    connection.execute(
        table.update().where(here, table.c.revoked_at.is_(None)).values(revoked_at=time.time())
    )
    audit.record(connection, actor, "link_revoked", case_id)

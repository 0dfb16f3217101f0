"""Request and answer bodies of the API."""

from datetime import UTC, datetime
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from carbpair.cases.analysis import Analysis
from carbpair.cases.audit import AuditEvent
from carbpair.cases.case import Case
from carbpair.cases.checklist import Tick
from carbpair.cases.correction import Correction
from carbpair.cases.link import Link
from carbpair.cases.photo import Photo

State = Literal["awaiting_photos", "analysing", "ready", "failed", "closed"]
Purpose = Literal["workshop", "purchase"]


def moment(seconds: float) -> datetime:
    """Return Unix seconds as a UTC time."""
    return datetime.fromtimestamp(seconds, UTC)


class _Body(BaseModel):
    model_config = ConfigDict(extra="forbid")


class CaseFacts(_Body):
    """What is known about the car; all optional."""

    car: str | None = Field(None, max_length=80)
    engine: str | None = Field(None, max_length=80)
    year: int | None = Field(None, ge=1885, le=2100)
    tag_text: str | None = Field(None, max_length=200)
    symptoms: list[str] = Field(default_factory=list, max_length=20)
    remarks: str = Field("", max_length=4000)
    purpose: Purpose = "workshop"
    consent_learning: bool = False


class NewCase(CaseFacts):
    """A case to open."""

    title: str = Field(min_length=1, max_length=200)


class CaseChanges(_Body):
    """Fields to change; those left out stay."""

    title: str | None = Field(None, min_length=1, max_length=200)
    state: State | None = None
    car: str | None = Field(None, max_length=80)
    engine: str | None = Field(None, max_length=80)
    year: int | None = Field(None, ge=1885, le=2100)
    tag_text: str | None = Field(None, max_length=200)
    symptoms: list[str] | None = Field(None, max_length=20)
    remarks: str | None = Field(None, max_length=4000)
    purpose: Purpose | None = None
    consent_learning: bool | None = None


class CaseOut(BaseModel):
    """A case."""

    id: str
    number: int
    title: str
    state: State
    purpose: Purpose
    car: str | None
    engine: str | None
    year: int | None
    tag_text: str | None
    symptoms: list[str]
    remarks: str
    consent_learning: bool
    revision: int
    created_at: datetime
    updated_at: datetime

    @classmethod
    def of(cls, case: Case) -> "CaseOut":
        """Convert."""
        times = {"created_at": moment(case.created_at), "updated_at": moment(case.updated_at)}
        return cls(**(vars(case) | times))


class CasePage(BaseModel):
    """Some cases, newest first; `next` is the address of the following page."""

    cases: list[CaseOut]
    next: str | None


class PhotoOut(BaseModel):
    """A photo of a case; `image` is the address of its bytes."""

    id: str
    file: str
    view: str
    phase: str
    width: int
    height: int
    size: int
    notes: list[str]
    quality: dict[str, Any]
    image: str
    created_at: datetime

    @classmethod
    def of(cls, photo: Photo) -> "PhotoOut":
        """Convert."""
        return cls(
            **{name: getattr(photo, name) for name in ("id", "view", "phase", "width", "height")},
            file=photo.file_name,
            size=photo.size,
            notes=list(photo.notes),
            quality=dict(photo.quality),
            image=f"/api/cases/{photo.case_id}/photos/{photo.id}/image",
            created_at=moment(photo.created_at),
        )


class LinkOut(BaseModel):
    """A customer's link; `url` is told once, when it is made."""

    id: str
    hint: str
    url: str | None = None
    live: bool
    expires_at: datetime
    revoked_at: datetime | None

    @classmethod
    def of(cls, link: Link, url: str | None = None) -> "LinkOut":
        """Convert."""
        return cls(
            id=link.digest,
            hint=link.hint,
            url=url,
            live=link.is_live(),
            expires_at=moment(link.expires_at),
            revoked_at=None if link.revoked_at is None else moment(link.revoked_at),
        )


class NewLink(_Body):
    """A link to make."""

    days: float | None = Field(None, gt=0, le=90)


class NewCorrection(_Body):
    """What a person saw; `value` null means that it cannot be seen."""

    position: Literal["left", "right", "pair"]
    feature: str = Field(max_length=40)
    value: bool | int | float | str | None
    photo_id: str | None = Field(None, max_length=16)
    drawing: dict[str, Any] | None = None
    note: str = Field("", max_length=2000)


class CorrectionOut(BaseModel):
    """A correction in force."""

    id: int
    position: str
    feature: str
    value: bool | int | float | str | None
    photo_id: str | None
    drawing: dict[str, Any] | None
    note: str
    made_by: str
    made_at: datetime

    @classmethod
    def of(cls, correction: Correction) -> "CorrectionOut":
        """Convert."""
        values = {name: getattr(correction, name) for name in cls.model_fields}
        return cls(**(values | {"made_at": moment(correction.made_at)}))


class NewTick(_Body):
    """What was found by hand."""

    outcome: Literal["open", "good", "bad", "skipped"]
    note: str = Field("", max_length=2000)


class TickOut(BaseModel):
    """The state of one checklist item."""

    item_id: str
    outcome: str
    note: str
    made_by: str
    made_at: datetime

    @classmethod
    def of(cls, tick: Tick) -> "TickOut":
        """Convert."""
        values = {name: getattr(tick, name) for name in cls.model_fields}
        return cls(**(values | {"made_at": moment(tick.made_at)}))


class AnalysisOut(BaseModel):
    """How far the newest analysis is."""

    id: str
    revision: int
    state: Literal["queued", "running", "done", "failed", "superseded"]
    done_photos: int
    photos: int
    error: str | None

    @classmethod
    def of(cls, analysis: Analysis) -> "AnalysisOut":
        """Convert."""
        return cls(
            id=analysis.id,
            revision=analysis.revision,
            state=analysis.state,
            done_photos=analysis.done_photos,
            photos=len(analysis.photo_ids),
            error=analysis.error,
        )


class EventOut(BaseModel):
    """One line of a case's history."""

    id: int
    actor: str
    action: str
    detail: dict[str, Any]
    at: datetime

    @classmethod
    def of(cls, event: AuditEvent) -> "EventOut":
        """Convert."""
        return cls(
            id=event.id,
            actor=event.actor,
            action=event.action,
            detail=dict(event.detail),
            at=moment(event.at),
        )

"""Corrections: what a person at the desk saw, over what the readers said."""

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import sqlalchemy as sa

from carbpair.cases import audit, case, photo, schema
from carbpair.cases.error import InvalidError, NotFoundError
from carbpair.drawn_carb import DrawnCarb
from carbpair.geometry.hole_layout import NAMES as HOLE_LAYOUTS

CARB_POSITIONS = ("left", "right")
# Values a person may give per carb; None means "cannot be seen".
CARB_VALUES: Mapping[str, tuple[Any, ...]] = {
    "flange_holes": (2, 3, 4),
    "hole_layout": HOLE_LAYOUTS,
    "bowl_side": ("inboard", "outboard", "none"),
    "chamber": ("piston", "diaphragm"),
    "filter_fitted": (True, False),
}
# Not a feature but the carburettor itself, drawn where the locator missed it: the readers then
# read it there. Only ever True, with a box.
DRAWN_CARB = "carb"
# Not read from photos, only confirmed by hand, for the pair.
PAIR_VALUES: Mapping[str, tuple[Any, ...]] = {
    "heat_shield": (True, False),
    "return_spring": ("external", "spindle", "none_seen"),
    "choke_linkage": ("cable_jet", "cam_lever", "automatic"),
}
DRAWING_KINDS = ("hole", "box")
MAX_NOTE = 2000
MAX_TAG = 200


@dataclass(frozen=True)
class Correction:
    """One correction; `drawing` is in pixels of the upright photo, corners at integers.

    A drawing is ``{"kind": "hole", "points": [[x, y], …]}`` or ``{"kind": "box",
    "box": [x0, y0, x1, y1]}``.
    """

    id: int
    case_id: str
    position: str
    feature: str
    value: Any
    photo_id: str | None
    drawing: Mapping[str, Any] | None
    note: str
    made_by: str
    made_at: float
    withdrawn_at: float | None


def make(
    connection: sa.Connection,
    actor: str,
    case_id: str,
    *,
    position: str,
    feature: str,
    value: Any,
    photo_id: str | None = None,
    drawing: Mapping[str, Any] | None = None,
    note: str = "",
) -> Correction:
    """Record a correction; an earlier one of the same feature is withdrawn. Raises InvalidError."""
    case.get(connection, case_id)
    value = checked_value(position, feature, value)
    if feature == DRAWN_CARB and (drawing is None or drawing.get("kind") != "box"):
        raise InvalidError("a carburettor that was missed is drawn as a box on a photo")
    if drawing is not None:
        if photo_id is None:
            raise InvalidError("a drawing needs the photo that it is on")
        picture = photo.get(connection, case_id, photo_id)
        drawing = checked_drawing(drawing, picture.width, picture.height)
    elif photo_id is not None:
        photo.get(connection, case_id, photo_id)
    if len(note) > MAX_NOTE:
        raise InvalidError(f"the note is longer than {MAX_NOTE} characters", "shorten it")
    table = schema.correction
    now = time.time()
    connection.execute(
        table.update()
        .where(
            table.c.case_id == case_id,
            table.c.position == position,
            table.c.feature == feature,
            table.c.withdrawn_at.is_(None),
        )
        .values(withdrawn_at=now)
    )
    result = connection.execute(
        table.insert().values(
            case_id=case_id,
            position=position,
            feature=feature,
            value={"value": value},
            photo_id=photo_id,
            drawing=drawing,
            note=note.replace("\x00", "").strip(),
            made_by=actor,
            made_at=now,
            withdrawn_at=None,
        )
    )
    audit.record(
        connection,
        actor,
        "feature_corrected",
        case_id,
        position=position,
        feature=feature,
        value=value,
    )
    key = result.inserted_primary_key
    assert key is not None  # noqa: S101 - an insert of one row has one
    return _get(connection, case_id, int(key[0]))


def withdraw(
    connection: sa.Connection, actor: str, case_id: str, correction_id: int
) -> Correction | None:
    """Take a correction back; the readers' own value holds again. None if it was back already."""
    found = _get(connection, case_id, correction_id)
    if found.withdrawn_at is not None:
        return None
    table = schema.correction
    connection.execute(
        table.update().where(table.c.id == correction_id).values(withdrawn_at=time.time())
    )
    audit.record(
        connection, actor, "correction_withdrawn", case_id,
        position=found.position, feature=found.feature,
    )  # fmt: skip
    return found


def in_force(connection: sa.Connection, case_id: str) -> list[Correction]:
    """Return the corrections that hold now, oldest first."""
    table = schema.correction
    rows = connection.execute(
        sa.select(table)
        .where(table.c.case_id == case_id, table.c.withdrawn_at.is_(None))
        .order_by(table.c.id)
    )
    return [_from_row(row) for row in rows.mappings()]


def drawn_carbs(corrections: Sequence[Correction]) -> dict[str, list[DrawnCarb]]:
    """Return the carburettors drawn by hand, by the id of their photo."""
    found: dict[str, list[DrawnCarb]] = {}
    for one in corrections:
        if one.feature == DRAWN_CARB and one.photo_id is not None and one.drawing is not None:
            x0, y0, x1, y1 = one.drawing["box"]
            position: Literal["left", "right"] = "left" if one.position == "left" else "right"
            found.setdefault(one.photo_id, []).append(DrawnCarb(position, (x0, y0, x1, y1)))
    return found


def checked_value(position: str, feature: str, value: Any) -> Any:
    """Return `value` in its right type; raises InvalidError naming what is allowed."""
    if position == "pair":
        allowed = PAIR_VALUES.get(feature)
    elif position in CARB_POSITIONS:
        allowed = CARB_VALUES.get(feature)
    else:
        raise InvalidError("position must be left, right or pair")
    if feature == "tag":
        text = str(value or "").replace("\x00", "").strip()
        if len(text) > MAX_TAG:
            raise InvalidError(f"a tag's text is longer than {MAX_TAG} characters")
        return text or None
    if feature == DRAWN_CARB and position in CARB_POSITIONS:
        if value is not True:
            raise InvalidError("a drawn carburettor has the value true", "withdraw it instead")
        return True
    if feature == "mark_bearing_deg" and position in CARB_POSITIONS:
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or not -180 < value <= 180:
            raise InvalidError("a mark's bearing lies above −180° and up to 180°")
        return float(value)
    if allowed is None:
        raise InvalidError(f"{feature[:40]!r} cannot be corrected for {position}")
    if value is None:
        return None
    for choice in allowed:
        if type(value) is type(choice) and value == choice:
            return choice
    raise InvalidError(f"{feature} must be one of {', '.join(map(str, allowed))}, or empty")


def checked_drawing(drawing: Mapping[str, Any], width: int, height: int) -> dict[str, Any]:
    """Return the drawing with only known keys; raises InvalidError when it leaves the photo."""
    kind = drawing.get("kind")
    if kind not in DRAWING_KINDS:
        raise InvalidError("a drawing is a hole or a box")
    try:
        if kind == "box":
            x0, y0, x1, y1 = (float(value) for value in drawing["box"])
            points = [[x0, y0], [x1, y1]]
            clean: dict[str, Any] = {"kind": "box", "box": [x0, y0, x1, y1]}
            if x1 <= x0 or y1 <= y0:
                raise InvalidError("the box has no area", "draw it again")
        else:
            points = [[float(x), float(y)] for x, y in drawing["points"]]
            clean = {"kind": "hole", "points": points}
            if not 1 <= len(points) <= 8:
                raise InvalidError("mark 1 to 8 holes")
    except (KeyError, TypeError, ValueError):
        raise InvalidError("the drawing's numbers cannot be read", "draw it again") from None
    if not all(0 <= x <= width and 0 <= y <= height for x, y in points):
        raise InvalidError("the drawing leaves the photo", "draw it inside")
    return clean


def _get(connection: sa.Connection, case_id: str, correction_id: int) -> Correction:
    table = schema.correction
    row = (
        connection.execute(
            sa.select(table).where(table.c.case_id == case_id, table.c.id == correction_id)
        )
        .mappings()
        .first()
    )
    if row is None:
        raise NotFoundError("this case has no such correction")
    return _from_row(row)


def _from_row(row: Mapping[Any, Any]) -> Correction:
    return Correction(**{**row, "value": row["value"]["value"]})

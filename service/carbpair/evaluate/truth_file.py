"""The truth file that a person writes: JSON or TOML, checked with messages that name the place.

``docs/evaluate.md`` documents it. One file for a folder has ``photos``, a mapping from the
photo's path below the folder to its entry; a file beside one photo has the entry alone.
"""

import json
import tomllib
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, StrictBool, ValidationError, model_validator

from carbpair.evaluate.error import TruthError
from carbpair.evaluate.truth import BEARING, FEATURES, Box, CarbTruth, PhotoTruth, verdict_of
from carbpair.geometry.hole_layout import COUNT_OF, HoleLayout
from carbpair.vision.feature import Value

SCHEMA = "carbpair/truth/1"

DASHPOT_PER_BOX = 0.68
"""Dashpot width over the width of a carb's box, median over the sample pictures' 28 carbs."""

REMEDY = "Correct it; docs/evaluate.md shows the format."

Feature = Literal[
    "flange_holes",
    "hole_layout",
    "bowl_side",
    "mark_bearing_deg",
    "mark_verdict",
    "chamber",
    "filter_fitted",
]
Size = tuple[int, int]
Model = TypeVar("Model", bound=BaseModel)


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class CarbEntry(_Strict):
    """One carb; what is left out is not scored."""

    position: Literal["left", "right"] | None = None
    box: tuple[float, float, float, float] | None = None
    dashpot_px: Annotated[float, Field(gt=0)] | None = None
    flange_holes: Literal[2, 3, 4] | None = None
    hole_layout: HoleLayout | None = None
    bowl_side: Literal["inboard", "outboard", "none"] | None = None
    mark_bearing_deg: Annotated[float, Field(gt=-180, le=180)] | None = None
    mark_verdict: Literal["faces_intake", "turned"] | None = None
    chamber: Literal["piston", "diaphragm"] | None = None
    filter_fitted: StrictBool | None = None
    hidden: tuple[Feature, ...] = ()
    present: StrictBool = True

    @model_validator(mode="after")
    def _check(self) -> "CarbEntry":
        if self.box is not None:
            x0, y0, x1, y1 = self.box
            if x1 <= x0 or y1 <= y0:
                raise ValueError("box is [x0, y0, x1, y1] with x0 < x1 and y0 < y1")
            if max(self.box) <= 1:
                raise ValueError("box is in pixels of the upright photo, not in fractions of it")
        lies = self.hole_layout
        if lies is not None and self.flange_holes not in (None, COUNT_OF[lies]):
            raise ValueError(f"hole_layout {lies} is one of {COUNT_OF[lies]} holes")
        bearing, verdict = self.mark_bearing_deg, self.mark_verdict
        if bearing is not None and verdict not in (None, verdict_of(bearing)):
            raise ValueError("mark_verdict contradicts mark_bearing_deg (15° is the limit)")
        return self


class PhotoEntry(_Strict):
    """One photo; an empty `carbs` says that it shows none."""

    carbs: tuple[CarbEntry, ...]
    pair: str | None = None
    group: str | None = None

    @model_validator(mode="after")
    def _check(self) -> "PhotoEntry":
        places = [c.position for c in self.carbs if c.position]
        if len(set(places)) != len(places):
            raise ValueError("two carbs of one photo have the same position")
        if len(self.carbs) > 1 and any(c.box is None and c.position is None for c in self.carbs):
            raise ValueError("with more than one carb each needs a box or a position")
        return self


class TruthFile(_Strict):
    """One file for a whole folder."""

    schema_: Literal["carbpair/truth/1"] | None = Field(None, alias="schema")
    photos: dict[str, PhotoEntry]


def load(path: Path) -> Any:
    """Parsed content of a .json or .toml file. Raises TruthError naming line and remedy."""
    try:
        content = path.read_text(encoding="utf-8-sig")
        return tomllib.loads(content) if path.suffix == ".toml" else json.loads(content)
    except OSError as error:
        raise TruthError(path, f"cannot be read ({error.strerror}).", "Check it.") from None
    except UnicodeDecodeError:
        raise TruthError(path, "is not UTF-8 text.", "Save it as UTF-8.") from None
    except (json.JSONDecodeError, tomllib.TOMLDecodeError) as error:
        kind = "TOML" if path.suffix == ".toml" else "JSON"
        raise TruthError(path, f"is not valid {kind}: {error}.", REMEDY) from None


def folder_entries(path: Path, data: Any) -> dict[str, PhotoEntry]:
    """The entries of a folder's file. Raises TruthError."""
    return _checked(TruthFile, path, data).photos


def photo_entry(path: Path, data: Any) -> PhotoEntry:
    """The entry of a file beside one photo. Raises TruthError."""
    return _checked(PhotoEntry, path, data)


def _checked(model: type[Model], path: Path, data: Any) -> Model:
    try:
        return model.model_validate(data)
    except ValidationError as error:
        first = error.errors()[0]
        where = " → ".join(str(part) for part in first["loc"]) or "the file"
        more = f" ({error.error_count() - 1} more)" if error.error_count() > 1 else ""
        reason = first["msg"].removeprefix("Value error, ")
        raise TruthError(path, f"{where}: {reason}{more}.", REMEDY) from None


def entry_truth(source: Path, file: str, entry: PhotoEntry, size: Size) -> PhotoTruth:
    """Truth of one photo of (width, height) pixels. Raises TruthError for a box outside it."""
    carbs = tuple(_carb(source, file, i, c, size) for i, c in enumerate(entry.carbs))
    return PhotoTruth(file, carbs, entry.pair, entry.group)


def _carb(source: Path, file: str, number: int, entry: CarbEntry, size: Size) -> CarbTruth:
    values: dict[str, Value] = {
        name: value for name in FEATURES if (value := getattr(entry, name)) is not None
    }
    if entry.mark_bearing_deg is not None:
        values.setdefault("mark_verdict", verdict_of(entry.mark_bearing_deg))
    hidden = set(entry.hidden)
    if entry.filter_fitted:
        hidden |= {"flange_holes", "hole_layout"}
    if BEARING in hidden:
        hidden.add("mark_verdict")
    return CarbTruth(
        _inside(source, file, number, entry.box, size), entry.position, values,
        frozenset(values) - hidden, frozenset(hidden), entry.present,
        _size(entry, size),
    )  # fmt: skip


def _inside(source: Path, file: str, number: int, box: Box | None, size: Size) -> Box | None:
    if box is None:
        return None
    x0, y0, x1, y1 = box
    w, h = size
    cut = max(x0, 0.0), max(y0, 0.0), min(x1, float(w)), min(y1, float(h))
    if cut[2] <= cut[0] or cut[3] <= cut[1]:
        raise TruthError(
            source,
            f"{file} → carbs → {number} → box: lies outside the photo of {w} × {h} pixels.",
            "Measure boxes on the upright photo at its full size.",
        )
    return cut


def _size(entry: CarbEntry, size: Size) -> float | None:
    if entry.dashpot_px is not None:
        return entry.dashpot_px / size[0]
    if entry.box is not None:
        return DASHPOT_PER_BOX * (entry.box[2] - entry.box[0]) / size[0]
    return None

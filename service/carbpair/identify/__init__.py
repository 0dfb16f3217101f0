"""Identification: features and what the sender says in, candidates and advice out.

``identify_inspection`` is the one public entry; the rest are its inputs and outputs.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from carbpair.identify.calibration import Calibration, load_calibration
from carbpair.identify.catalogue import Catalogue
from carbpair.identify.catalogue_file import demo_catalogue, load_catalogue
from carbpair.identify.confusion import Confusion
from carbpair.identify.confusion_file import load_confusion
from carbpair.identify.error import (
    BadInputError,
    CatalogueError,
    ContradictionError,
    IdentifyError,
    UnknownNameError,
)
from carbpair.identify.fact import CaseFacts
from carbpair.identify.identification import Identification
from carbpair.identify.identify import identify
from carbpair.identify.reading import read_inspection
from carbpair.identify.symptom import symptoms
from carbpair.identify.verification import Verification, verify

__all__ = [
    "BadInputError",
    "Calibration",
    "CaseFacts",
    "Catalogue",
    "CatalogueError",
    "Confusion",
    "ContradictionError",
    "Identification",
    "IdentifyError",
    "UnknownNameError",
    "Verification",
    "demo_catalogue",
    "identify_inspection",
    "load_calibration",
    "load_catalogue",
    "load_confusion",
    "read_inspection",
    "symptoms",
    "verify",
]


def identify_inspection(
    inspection_json: Mapping[str, Any],
    catalogue: Catalogue | None = None,
    case_facts: CaseFacts | Mapping[str, Any] | None = None,
    *,
    confusion: Confusion | None = None,
    calibration: Calibration | None = None,
) -> Identification:
    """Identify the pair of an inspection (schema carbpair/inspection/1).

    ``catalogue`` None means the demonstration catalogue, and the result says so.
    ``case_facts``: car, engine, year, tags, confirmed, symptoms (see CaseFacts.from_dict).
    ``confusion`` and ``calibration`` default to those that ship with the weights.
    Raises IdentifyError, whose text says what to do, and guesses nothing.
    """
    held = catalogue if catalogue is not None else demo_catalogue()
    errors = confusion if confusion is not None else load_confusion()
    facts = (
        case_facts if isinstance(case_facts, CaseFacts) else CaseFacts.from_dict(case_facts or {})
    )
    return identify(
        read_inspection(inspection_json),
        facts,
        held,
        errors,
        calibration if calibration is not None else load_calibration(held, errors),
    )

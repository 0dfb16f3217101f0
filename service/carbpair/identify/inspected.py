"""Identification of what was just inspected, prepared before the photos are read."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from carbpair.identify import (
    Calibration,
    CaseFacts,
    Catalogue,
    Confusion,
    Identification,
    demo_catalogue,
    identify_inspection,
    load_calibration,
    load_catalogue,
    load_confusion,
)
from carbpair.identify.calibration import calibration_file


def load_tools(file: Path | None) -> tuple[Catalogue, Confusion, Calibration]:
    """Catalogue, readers' errors and calibration.

    ``file`` None means the demonstration. The calibration is the one beside the catalogue,
    else the one that ships with the weights.
    """
    catalogue = demo_catalogue() if file is None else load_catalogue(file)
    confusion = load_confusion()
    own = None if file is None else calibration_file(file)
    kept = own if own is not None and own.exists() else None
    return catalogue, confusion, load_calibration(catalogue, confusion, kept)


class Identifier:
    """Catalogue and stated car, checked at once; raises IdentifyError when unusable."""

    def __init__(self, file: Path | None, car: str | None, engine: str | None) -> None:
        self.catalogue, self.confusion, self.calibration = load_tools(file)
        self.facts = CaseFacts.from_dict({"car": car, "engine": engine})
        if car is not None:
            self.catalogue.fitments_of(car, engine, None)

    def identify(self, inspection: Mapping[str, Any]) -> Identification | None:
        """The identification, None where no carburettor was found."""
        if not any(photo.get("carbs") for photo in inspection["photos"]):
            return None
        return identify_inspection(
            inspection,
            self.catalogue,
            self.facts,
            confusion=self.confusion,
            calibration=self.calibration,
        )

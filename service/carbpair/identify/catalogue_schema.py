"""The catalogue format as JSON Schema (draft 2020-12), made from the same dataclasses.

Some editors check a TOML file against it while it is written.
"""

from __future__ import annotations

import json
from typing import Any

from pydantic import TypeAdapter

from carbpair.identify.catalogue import CatalogueDocument

SCHEMA_FILE = "catalogue.schema.json"


def catalogue_schema() -> dict[str, Any]:
    """The schema as a table."""
    schema = TypeAdapter(CatalogueDocument).json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def published_schema() -> str:
    """The schema as it stands in data/catalogue.schema.json."""
    return json.dumps(catalogue_schema(), indent=1, ensure_ascii=False) + "\n"

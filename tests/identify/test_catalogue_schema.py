import json
import tomllib
from importlib import resources

import jsonschema
import pytest

from carbpair.identify.catalogue_file import DEMO_FILE
from carbpair.identify.catalogue_schema import SCHEMA_FILE, catalogue_schema, published_schema

DATA = resources.files("carbpair.identify") / "data"
VALIDATOR = jsonschema.Draft202012Validator(catalogue_schema())


def demo() -> dict:
    return tomllib.loads((DATA / DEMO_FILE).read_text(encoding="utf-8"))


def test_the_published_file_is_the_one_in_force() -> None:
    assert (DATA / SCHEMA_FILE).read_text(encoding="utf-8") == published_schema()
    jsonschema.Draft202012Validator.check_schema(json.loads(published_schema()))


def test_the_demo_satisfies_it() -> None:
    VALIDATOR.validate(demo())


@pytest.mark.parametrize(
    "spoil",
    [
        lambda d: d.update(extra=1),
        lambda d: d["pattern"][0].update(flange_hole=3),
        lambda d: d["pattern"][0].update(flange_holes=7),
        lambda d: d["pattern"][0].pop("chamber"),
        lambda d: d["fitment"][0].update(years=[1960]),
        lambda d: d["pattern"][0].update(mark="nowhere"),
        lambda d: d.update(schema="carbpair/catalogue/2"),
    ],
)
def test_it_refuses_what_the_loader_refuses(spoil) -> None:
    document = demo()
    spoil(document)
    assert not VALIDATOR.is_valid(document)

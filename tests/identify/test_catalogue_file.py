from importlib import resources

import pytest

from carbpair.identify.catalogue_file import (
    DEMO_FILE,
    demo_catalogue,
    load_catalogue,
    parse_catalogue,
)
from carbpair.identify.error import BadInputError, CatalogueError
from carbpair.identify.inseparable import PHOTO_FEATURES, photo_signature
from tests.identify.example import HEAD, catalogue

DEMO = (resources.files("carbpair.identify") / "data" / DEMO_FILE).read_text(encoding="utf-8")


def test_demo_has_what_it_promises() -> None:
    demo = demo_catalogue()
    assert demo.header.demo
    assert len(demo.patterns) >= 8
    assert len(demo.fitments) >= 10
    home, export = demo.pattern("od-2int-home"), demo.pattern("od-2int-export")
    assert photo_signature(home, PHOTO_FEATURES) == photo_signature(export, PHOTO_FEATURES)
    external, spindle = demo.pattern("op-3in-ext"), demo.pattern("op-3in-spi")
    differing = [n for n in demo.features if external.value(n) != spindle.value(n)]
    assert differing == ["return_spring"]
    assert external.tag == spindle.tag
    assert external.tag_formats == spindle.tag_formats
    assert external.mark == spindle.mark
    assert external.heat_shield == spindle.heat_shield


BROKEN = [
    ("flange_holes = 3", "flange_hole = 3", "unknown field 'flange_hole'", "'flange_holes'"),
    ('chamber = "piston"', 'chamber = "pistn"', "'pistn' is not allowed", "'piston'"),
    ('pattern = "op-2out"', 'pattern = "op-2ut"', "no pattern 'op-2ut'", "'op-2out'"),
    ("years = [1958, 1963]", "years = [1964, 1960]", "run backwards", "1964"),
    ("years = [1958, 1963]", 'years = [1958, "x"]', "item 2 of years", "integer"),
    ("tolerance_deg = 15", "tolerance_dg = 15", "unknown field", "'tolerance_deg'"),
    ("mark = { bearing_deg = 0, tolerance_deg = 15 }", 'mark = "nne"', "'nne'", "'none'"),
    ("mark = { bearing_deg = 0, tolerance_deg = 15 }", "mark = 3", "mark", ""),
    ('"5/16-18 UNC"', '"5/16 UNC"', "unknown thread", "'5/16-18 UNC'"),
    ('id = "op-2out"', 'id = "op-2in"', "used by an earlier pattern", ""),
    ('car = "Varnley Calloe"\n', "", "'car' is missing", ""),
    ("heat_shield = true", 'heat_shield = "yes"', "heat_shield = 'yes'", "boolean"),
    ("[[fitment]]", "[[fitmnt]]", "unknown field 'fitmnt'", "'fitment'"),
    ('brass_hex" }', 'bras_hex" }', "not a value of dashpot_cap", "'brass_hex'"),
    ("VN 1206 F", "VN 1102 F", "listed for op-2in (front) too", ""),
    ("flange_holes = 2", "flange_holes = 5", "flange_holes = 5", "4"),
    ('hole_layout = "diagonal"', 'hole_layout = "square"', "4 holes lie", "side_by_side"),
    ("flange_holes = 2", "flange_holes = true", "flange_holes = true", "integer"),
    ('"VN 11## @"', '"##(("', "tag format", "("),
    ('kind = "light"', 'kind = "lite"', "'lite' is not allowed", "'light'"),
    ("{ dashpot_cap =", "{ dashpt_cap =", "not declared", "'dashpot_cap'"),
    ('name = "dashpot_cap"', 'name = "chamber"', "already a built-in feature", ""),
    ('id = "op-2in"', 'id = "op 2in"', "letters, digits", "'op 2in'"),
    ('chamber = "piston"', "chamber = ", "not valid TOML", ""),
]


@pytest.mark.parametrize(("old", "new", "says", "offers"), BROKEN)
def test_every_finding_names_its_line(old: str, new: str, says: str, offers: str) -> None:
    assert old in DEMO
    broken = DEMO.replace(old, new, 1)
    with pytest.raises(CatalogueError) as caught:
        parse_catalogue(broken.encode(), "mine.toml")
    message = str(caught.value)
    assert says in message
    assert offers in message
    written = broken.splitlines()
    found = next(p for p in caught.value.problems if says in p.message)
    assert found.line is not None
    changed = DEMO[: DEMO.index(old)].count("\n") + 1
    # A missing key has no line of its own: the table that lacks it is named.
    assert abs(found.line - changed) <= 1, written[found.line - 1]
    assert "carbpair catalogue check" in message


def test_all_findings_are_listed_in_file_order() -> None:
    broken = DEMO.replace('"piston"', '"pistn"').replace("heat_shield = false", "heat_shild = true")
    with pytest.raises(CatalogueError) as caught:
        parse_catalogue(broken.encode(), "x")
    lines = [problem.line for problem in caught.value.problems]
    assert len(lines) == 7 + 7
    assert lines == sorted(lines)
    texts = broken.splitlines()
    assert all("pistn" in texts[n - 1] or "heat_shild" in texts[n - 1] for n in lines if n)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "schema"),
        (b'schema = "carbpair/catalogue/9"', "carbpair/catalogue/9"),
        (b'schema = "carbpair/catalogue/1"', "'catalogue' is missing"),
        (HEAD.encode(), "'pattern' is missing"),
        (HEAD.encode() + b'x = "\xff"', "line 6: not UTF-8"),
        (b"\x00\x01", "not valid TOML"),
        (b"a = 1\na = 2", "line 2"),
    ],
)
def test_what_is_no_catalogue_is_refused(data: bytes, says: str) -> None:
    with pytest.raises(CatalogueError, match=says):
        parse_catalogue(data, "x.toml")


def test_a_byte_order_mark_is_allowed() -> None:
    assert parse_catalogue(b"\xef\xbb\xbf" + DEMO.encode(), "x").patterns


def test_missing_and_oversized_files(tmp_path, monkeypatch) -> None:
    with pytest.raises(BadInputError, match=r"absent\.toml: cannot be read"):
        load_catalogue(tmp_path / "absent.toml")
    file = tmp_path / "big.toml"
    file.write_text(DEMO)
    monkeypatch.setattr("carbpair.identify.catalogue_file.MAX_BYTES", 10)
    with pytest.raises(BadInputError, match="more than a catalogue may have"):
        load_catalogue(file)


def test_a_smallest_catalogue() -> None:
    small = catalogue('[[pattern]]\nid = "p"\nname = "P"\nchamber = "piston"\n')
    assert small.pattern("p").flange_holes is None
    assert small.fitments == ()

from carbpair.identify.catalogue_lines import LineFinder

TEXT = """a = 1
[head]
id = "x"
list = [
  1,
  # a comment is no item
  { inner = 2 },
]
[[row]]
id = "r0"
[[row]]
note = \"\"\"
[[row]]
id = "not a key"
\"\"\"
id = "r1"
mark = { bearing_deg = 0,
  tolerance_deg = 5 }
[row.sub]
"quoted key" = 1
[[row.part]]
n = 1
[[row.part]]
n = 2
dotted.key = 3
"""


def test_every_kind_of_place() -> None:
    lines = LineFinder(TEXT)
    expected = {
        ("a",): 1,
        ("head",): 2,
        ("head", "id"): 3,
        ("head", "list", 0): 5,
        ("head", "list", 1, "inner"): 7,
        ("row", 0): 9,
        ("row", 0, "id"): 10,
        ("row", 1): 11,
        ("row", 1, "id"): 16,
        ("row", 1, "mark", "tolerance_deg"): 18,
        ("row", 1, "sub", "quoted key"): 20,
        ("row", 1, "part", 0, "n"): 22,
        ("row", 1, "part", 1, "n"): 24,
        ("row", 1, "part", 1, "dotted", "key"): 25,
    }
    assert {path: lines.line(path) for path in expected} == expected


def test_what_is_not_written_falls_back_to_its_table() -> None:
    lines = LineFinder(TEXT)
    assert lines.line(("row", 0, "absent")) == 9
    assert lines.line(("nowhere",)) is None

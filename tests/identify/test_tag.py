import pytest

from carbpair.identify.catalogue_file import demo_catalogue
from carbpair.identify.tag import mask_problem, match_tag, normalise_tag

DEMO = demo_catalogue()


@pytest.mark.parametrize("text", ["VN 2404 F", "vn2404f", "VN-2404-F", " VN  2404 f "])
def test_spacing_and_case_do_not_matter(text: str) -> None:
    found = match_tag(text, DEMO)
    assert found.listed == ("op-4out",)
    assert found.place == "front"


def test_a_number_that_follows_a_format_is_not_listed() -> None:
    found = match_tag("VN 2477 X", DEMO)
    assert found.listed == ()
    assert found.formatted == ("op-4out",)
    assert "VN 2404 F" in found.near


def test_a_shared_format_names_both() -> None:
    assert match_tag("VN 2110 F", DEMO).formatted == ("op-3in-ext", "op-3in-spi")


def test_an_unknown_text_matches_nothing() -> None:
    found = match_tag("QQ 9", DEMO)
    assert (found.listed, found.formatted, found.place) == ((), (), None)


@pytest.mark.parametrize("mask", ["VN (1)", "[A]", "", "  ", "***"])
def test_bad_masks(mask: str) -> None:
    assert mask_problem(mask)


@pytest.mark.parametrize("mask", ["VN ##", "@@ ### ?", "A*", "12/34-5.6"])
def test_good_masks(mask: str) -> None:
    assert mask_problem(mask) is None


def test_normal_form() -> None:
    assert normalise_tag("vn-12/3 f.") == "VN123F"

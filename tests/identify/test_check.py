"""The hand checks: complete, and safe to follow."""

import pytest

from carbpair.identify.check import Check, cautions, checks


@pytest.mark.parametrize("check", checks().values(), ids=lambda check: check.id)
def test_every_check_says_how_and_what_good_is(check: Check) -> None:
    assert check.title
    assert check.how
    assert check.good
    assert 0 < check.minutes <= 60
    assert check.kind in {"feature", "always", "extra"}
    assert check.tools or check.id == "spring_closes"


@pytest.mark.parametrize("check", checks().values(), ids=lambda check: check.id)
def test_a_check_that_opens_fuel_or_runs_the_engine_warns(check: Check) -> None:
    text = " ".join(check.how).lower()
    if any(word in text for word in ("lid off", "warm idle", "pump", "running", "idling")):
        assert check.caution


def test_what_photos_never_show_is_all_there() -> None:
    held = set(checks())
    assert held >= {
        "tag_numbers",
        "hole_thread",
        "spindle_play",
        "damper_oil",
        "piston_drop",
        "jet_choke",
        "fast_idle",
        "spring_closes",
        "float_level",
        "heat_shield",
        "leaks",
    }


def test_the_cautions_cover_the_dangers() -> None:
    text = " ".join(cautions()).lower()
    for word in (
        "vapour",
        "flame",
        "spark",
        "doors open",
        "earth lead",
        "exhaust",
        "linkages",
        "eye protection",
        "local rules",
        "qualified",
    ):
        assert word in text

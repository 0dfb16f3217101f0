from carbpair.identify.catalogue_file import demo_catalogue
from carbpair.identify.inseparable import PHOTO_FEATURES, inseparable_groups

DEMO = demo_catalogue()
EVEN = {pattern.id: 0.1 for pattern in DEMO.patterns}


def test_look_alikes_are_named_with_what_separates_them() -> None:
    found = inseparable_groups(DEMO, EVEN, PHOTO_FEATURES, [])
    assert {frozenset(group.ids): group.separated_by for group in found} == {
        frozenset({"op-3in-ext", "op-3in-spi"}): ("return_spring",),
        frozenset({"od-2int-home", "od-2int-export"}): ("tag",),
    }
    assert {group.reason for group in found} == {"no_photo_can"}
    assert all("No photo can tell" in group.text for group in found)


def test_a_candidate_that_is_ruled_out_is_not_dragged_in() -> None:
    shares = {**EVEN, "op-3in-spi": 0.001}
    found = inseparable_groups(DEMO, shares, PHOTO_FEATURES, [])
    assert [set(group.ids) for group in found] == [{"od-2int-home", "od-2int-export"}]


def test_the_hand_check_that_separates_them_ends_the_group() -> None:
    spring = inseparable_groups(DEMO, EVEN, PHOTO_FEATURES, ["return_spring"])
    assert all("op-3in-ext" not in group.ids for group in spring)
    tag = inseparable_groups(DEMO, EVEN, PHOTO_FEATURES, ["tag"])
    assert all("od-2int-home" not in group.ids for group in tag)


def test_what_these_photos_leave_open_is_said_apart() -> None:
    found = inseparable_groups(DEMO, EVEN, ("chamber",), [])
    left_open = [group for group in found if group.reason == "not_with_these_photos"]
    assert {len(group.ids) for group in left_open} == {7, 3}
    assert all("flange_holes" in group.needed for group in left_open)
    assert all("chamber" not in group.needed for group in left_open)

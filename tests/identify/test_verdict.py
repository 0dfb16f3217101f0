import numpy as np
import pytest

from carbpair.identify.inseparable import Inseparable
from carbpair.identify.posterior import Posterior
from carbpair.identify.verdict import decide

TWINS = (Inseparable(("a", "b"), "no_photo_can", (), ("tag",), ""),)


def held(*shares: float) -> Posterior:
    array = np.array(shares)
    return Posterior(("a", "b", "c", "other_source", "mixed_pair"), array, array)


@pytest.mark.parametrize(
    ("shares", "groups", "kind", "answer"),
    [
        ((0.97, 0.0, 0.01, 0.01, 0.01), (), "pattern", "a"),
        ((0.94, 0.0, 0.04, 0.01, 0.01), (), "undecided", None),
        ((0.49, 0.48, 0.01, 0.01, 0.01), TWINS, "group", None),
        ((0.96, 0.02, 0.0, 0.01, 0.01), TWINS, "group", None),
        ((0.50, 0.30, 0.18, 0.01, 0.01), TWINS, "undecided", None),
        ((0.01, 0.01, 0.97, 0.0, 0.01), TWINS, "pattern", "c"),
        ((0.1, 0.1, 0.1, 0.6, 0.1), (), "other_source", None),
        ((0.2, 0.1, 0.1, 0.4, 0.2), (), "undecided", None),
        ((0.1, 0.1, 0.1, 0.1, 0.6), (), "mixed_pair", None),
    ],
)
def test_what_is_said(shares, groups, kind: str, answer: str | None) -> None:
    found = decide(held(*shares), groups, 0.95, (), photos_only=True)
    assert (found.kind, found.answer) == (kind, answer)


def test_nothing_is_named_that_a_pair_from_elsewhere_might_be() -> None:
    sure = held(0.97, 0.0, 0.01, 0.015, 0.005)
    assert decide(sure, (), 0.95, (), photos_only=True, other_limit=0.02).answer == "a"
    assert decide(sure, (), 0.95, (), photos_only=True, other_limit=0.01).kind == "undecided"
    twins = held(0.5, 0.48, 0.0, 0.015, 0.005)
    assert decide(twins, TWINS, 0.95, (), photos_only=True, other_limit=0.01).kind == "undecided"


def test_the_limit_on_another_source_sees_behind_the_ceiling() -> None:
    # Held at 0.99 for photos alone, what is cut off goes to the rest; the limit is on what it was.
    shown = np.array([0.99, 0.0, 0.0, 0.01, 0.0])
    behind = Posterior(held(0.99, 0, 0, 0.01, 0).ids, shown, np.array([0.999, 0, 0, 0.001, 0.0]))
    assert decide(behind, (), 0.95, (), photos_only=True, other_limit=0.005).answer == "a"


def test_a_contradiction_ends_it() -> None:
    found = decide(held(0.99, 0.0, 0.0, 0.01, 0.0), (), 0.95, ("x",), photos_only=False)
    assert (found.kind, found.answer) == ("contradiction", None)


def test_a_group_too_is_held_at_the_ceiling_from_photos_alone() -> None:
    shares = held(0.5, 0.499, 0.0, 0.001, 0.0)
    assert decide(shares, TWINS, 0.95, (), photos_only=True).probability == 0.99
    assert decide(shares, TWINS, 0.95, (), photos_only=False).probability == pytest.approx(0.999)

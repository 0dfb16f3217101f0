import pytest

from carbpair.geometry.bearing import direction_words, faces_intake


@pytest.mark.parametrize(
    ("bearing", "faces"),
    [(0, True), (15, True), (-15, True), (15.1, False), (180, False), (-90, False), (359, True)],
)
def test_the_fifteen_degree_rule(bearing: float, faces: bool) -> None:
    assert faces_intake(bearing) is faces


@pytest.mark.parametrize(
    ("bearing", "words"),
    [
        (0, "towards the air intake"),
        (22, "towards the air intake"),
        (90, "to the left"),
        (-90, "to the right"),
        (180, "towards the engine"),
        (-179, "towards the engine"),
        (-140, "towards the engine and right"),
        (50, "towards the intake and left"),
    ],
)
def test_words(bearing: float, words: str) -> None:
    assert direction_words(bearing) == words

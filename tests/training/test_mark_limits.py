"""What the mark's further limits do, on cases made up by hand."""

from __future__ import annotations

import pytest
from models.training.evaluation.mark_limits import FRAMES, LIMITS, MarkCase, limit_lines

from carbpair.vision.calibration import Calibration

CASES = (
    MarkCase(1.0, 0.99, True, True, 0.99),
    MarkCase(40.0, 0.94, False, True, 0.97),  # none is to be seen: something else was read
    MarkCase(170.0, 0.96, True, False, 0.75),  # the carb was taken the wrong way round
    MarkCase(2.0, 0.86, True, False, 0.99),
)


@pytest.fixture
def lines() -> dict[str, str]:
    said = limit_lines(CASES, Calibration(mark_threshold=0.9, mark_threshold_far=0.95))
    return dict(line.split(": ", 1) for line in said)


def test_every_limit_has_its_line(lines: dict[str, str]) -> None:
    assert len(lines) == 2 * len(LIMITS) + len(FRAMES)


@pytest.mark.parametrize(
    ("line", "answered", "off", "turned", "far"),
    [
        ("mark, near half, 0.9", (1, 1), (0, 1), 0, (1, 2)),
        ("mark, near half, 0.95", (1, 1), (0, 1), 0, (0, 1)),
        ("mark, far half, 0.85", (2, 2), (1, 2), 1, (1, 2)),
        ("mark, far half, 0.97", (0, 2), (0, 0), 0, (0, 0)),
        # each half by its own limit, then the unsure frame left out
        ("mark, frame 0.0", (2, 3), (1, 2), 1, (2, 3)),
        ("mark, frame 0.8", (1, 3), (0, 1), 0, (1, 2)),
    ],
)
def test_what_a_limit_lets_stand(
    lines: dict[str, str],
    line: str,
    answered: tuple[int, int],
    off: tuple[int, int],
    turned: int,
    far: tuple[int, int],
) -> None:
    before, after = lines[line].split(", of these beyond 15 degrees ")
    middle, last = after.split(f" (turned round {turned}), of all answers ")
    for words, (hits, n) in ((before, answered), (middle, off), (last, far)):
        assert words.endswith(f", {hits}/{n}" if n else "no case")

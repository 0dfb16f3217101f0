"""What a reading of the mark was worth in the evaluation, by how certain it was of itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from carbpair.geometry.bearing import FLIP_DEG

STRAY_DEG = 15.0
"""A bearing further off than this did not find the mark."""
BY_CHANCE, FLIPPED_BY_CHANCE = 2 * STRAY_DEG / 360.0, 2 * (180.0 - FLIP_DEG) / 360.0
"""How often a bearing that means nothing lies that near, or that far, all the same."""


@dataclass(frozen=True)
class MarkShares:
    """How often a reading is of the mark, of its opposite, and anywhere; they sum to 1."""

    found: float
    flipped: float
    stray: float


@dataclass(frozen=True)
class MarkCounts:
    """Of ``n`` readings, how many lay within STRAY_DEG and how many beyond FLIP_DEG."""

    n: int
    right: int
    flipped: int

    @cached_property
    def shares(self) -> MarkShares:
        """Smoothed by half a count each (Jeffreys), and what chance does taken out.

        A stray may point anywhere, so one in twelve counts as right and one in six as flipped.
        """
        near, far = ((k + 0.5) / (self.n + 1.5) for k in (self.right, self.flipped))
        stray = (1.0 - near - far) / (1.0 - BY_CHANCE - FLIPPED_BY_CHANCE)
        found, flipped = near - stray * BY_CHANCE, far - stray * FLIPPED_BY_CHANCE
        # Fewer than chance alone gives: there are none of that kind, and two kinds remain.
        if flipped < 0.0:
            found, flipped = (near - BY_CHANCE) / (1.0 - BY_CHANCE), 0.0
        elif found < 0.0:
            found, flipped = 0.0, (far - FLIPPED_BY_CHANCE) / (1.0 - FLIPPED_BY_CHANCE)
        found, flipped = max(found, 0.0), max(flipped, 0.0)
        return MarkShares(found, flipped, 1.0 - found - flipped)


@dataclass(frozen=True)
class MarkRecord:
    """Readings of one ``status`` whose own probability is ``least`` or more, up to the next.

    ``sd_deg``: measured spread of those that found the mark; ``stated_sd_deg``: the spread that
    such readings give themselves, None where it was not kept. ``in_view``: of marks in full view.
    """

    status: str
    least: float
    counts: MarkCounts
    in_view: MarkCounts
    sd_deg: float
    stated_sd_deg: float | None = None

    def spread_deg(self, own_sd_deg: float | None) -> float:
        """The measured spread; wider for a reading that is wider than its like."""
        if own_sd_deg is None or self.stated_sd_deg is None:
            return self.sd_deg
        return self.sd_deg * max(own_sd_deg / self.stated_sd_deg, 1.0)


def record_of(
    records: Sequence[MarkRecord], status: str, probability: float | None
) -> MarkRecord | None:
    """The record that a reading belongs to; None without one.

    A reading that does not state its probability belongs to the least certain of its status.
    """
    of_status = sorted((r for r in records if r.status == status), key=lambda r: r.least)
    if not of_status:
        return None
    reached = [r for r in of_status if r.least <= (probability or 0.0)]
    return reached[-1] if reached else of_status[0]

"""What is known about one feature of one carburettor: confirmed by hand, else seen."""

from __future__ import annotations

from dataclasses import dataclass

from carbpair.identify.fact import CaseFacts
from carbpair.identify.feature import CARB_POSITIONS, SIDES_OF_LAYOUT
from carbpair.identify.reading import PairReading


@dataclass(frozen=True)
class Observation:
    """A value, the reader's probability of it (None when a hand confirmed it), its source."""

    feature: str
    value: str
    probability: float | None
    source: str

    def words(self, position: str) -> str:
        """One clause for a person."""
        name = self.feature.replace("_", " ")
        if self.source == "confirmed":
            return f"{position} {name} {self.value}, confirmed by hand"
        sure = "" if self.probability is None else f", probability {self.probability:.2f}"
        return f"{position} {name} {self.value}, read from photos{sure}"


def observe(
    reading: PairReading, facts: CaseFacts, feature: str, position: str
) -> Observation | None:
    """The value of ``feature`` at ``position``; None where nothing was seen or confirmed.

    A reading that is unsure is not an observation: it moves the posterior, no verdict.
    """
    stated = facts.finding(feature, position)
    if stated is not None:
        return Observation(feature, stated, None, "confirmed")
    label = reading.carb(position).label(feature)
    if label.status != "seen" or label.value is None:
        return None
    return Observation(feature, label.value, label.probability, "photo")


def seen_layout(
    reading: PairReading, facts: CaseFacts
) -> tuple[str | None, dict[str, Observation]]:
    """The bowl layout if both sides are known and form one, and the sides that are known."""
    stated = facts.finding("bowl_layout")
    sides: dict[str, Observation] = {}
    for number, position in enumerate(CARB_POSITIONS):
        seen = observe(reading, facts, "bowl_side", position)
        if stated is not None and len(SIDES_OF_LAYOUT[stated]) == 1:
            value = SIDES_OF_LAYOUT[stated][0][number]
            seen = Observation("bowl_side", value, None, "confirmed")
        if seen is not None:
            sides[position] = seen
    if stated is not None:
        if stated == "same_side" and not sides:
            # Which of the two sides it is does not matter to any pattern.
            left, right = SIDES_OF_LAYOUT[stated][0]
            sides = {
                "left": Observation("bowl_side", left, None, "confirmed"),
                "right": Observation("bowl_side", right, None, "confirmed"),
            }
        return stated, sides
    if len(sides) < len(CARB_POSITIONS):
        return None, sides
    shown = (sides["left"].value, sides["right"].value)
    for layout, pairs in SIDES_OF_LAYOUT.items():
        if shown in pairs:
            return layout, sides
    return None, sides

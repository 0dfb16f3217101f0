"""From the carbs of several photographs to one pair."""

from carbpair.pair.bowl import bowl_side
from carbpair.pair.contradiction import SEVERAL_PAIRS, Contradiction, Shot, contradictions
from carbpair.pair.duplicate import difference_hash, groups
from carbpair.pair.facing import Facing, opposed
from carbpair.pair.pair import NAMES, PairReading, assemble
from carbpair.pair.position import Places, Position, Stance, place

__all__ = [
    "NAMES", "SEVERAL_PAIRS", "Contradiction", "Facing", "PairReading", "Places", "Position",
    "Shot", "Stance", "assemble", "bowl_side", "contradictions", "difference_hash", "groups",
    "opposed", "place",
]  # fmt: skip

"""What a bearing means in words and whether a mark faces the intake."""

from carbpair.geometry.angles import wrap_deg

FACES_INTAKE_DEG = 15.0
"""A mark within this many degrees of the intake direction faces the intake."""

FLIP_DEG = 150.0
"""A bearing further off than this took front for back."""

DIRECTION_WORDS = (
    "towards the air intake",
    "towards the intake and left",
    "to the left",
    "towards the engine and left",
    "towards the engine",
    "towards the engine and right",
    "to the right",
    "towards the intake and right",
)
"""Eighths of a turn, clockwise from above; left and right as seen facing the intakes."""


def faces_intake(bearing_deg: float) -> bool:
    """True if the bearing lies within 15° of the intake direction, limits included."""
    return abs(wrap_deg(bearing_deg)) <= FACES_INTAKE_DEG


def direction_words(bearing_deg: float) -> str:
    """The nearest of eight directions in words, as seen by someone facing the air intakes."""
    return DIRECTION_WORDS[round((bearing_deg % 360.0) / 45.0) % 8]

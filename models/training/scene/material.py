"""Surface materials: base colour (linear RGB), roughness and metalness, with their spread.

Values are our own choices in the range of published measured materials; each draw is jittered.
``EVALUATION`` names are never drawn for training.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Material:
    """One surface: linear RGB in [0, 1], roughness in [0, 1], metalness in [0, 1]."""

    rgb: tuple[float, float, float]
    roughness: float
    metallic: float


# name: (r, g, b, roughness, metallic, spread of colour, spread of roughness)
_TABLE: dict[str, tuple[float, float, float, float, float, float, float]] = {
    "cast_aluminium": (0.62, 0.62, 0.62, 0.46, 0.85, 0.12, 0.12),
    "polished_aluminium": (0.80, 0.80, 0.81, 0.20, 1.0, 0.06, 0.08),
    "stained_aluminium": (0.42, 0.38, 0.31, 0.55, 0.6, 0.12, 0.12),
    "oxidised_aluminium": (0.58, 0.58, 0.55, 0.75, 0.25, 0.10, 0.10),
    "bead_blasted": (0.66, 0.66, 0.65, 0.60, 0.75, 0.08, 0.08),
    "zinc_alloy": (0.50, 0.50, 0.53, 0.45, 0.8, 0.10, 0.12),
    "dark_grey_paint": (0.06, 0.06, 0.065, 0.42, 0.0, 0.04, 0.15),
    "black_satin": (0.018, 0.018, 0.019, 0.40, 0.0, 0.012, 0.18),
    "black_crackle": (0.022, 0.022, 0.022, 0.70, 0.0, 0.010, 0.12),
    "brass": (0.74, 0.52, 0.22, 0.28, 1.0, 0.08, 0.14),
    "tarnished_brass": (0.36, 0.25, 0.12, 0.50, 0.8, 0.08, 0.12),
    "zinc_plate": (0.70, 0.70, 0.72, 0.30, 1.0, 0.08, 0.12),
    "yellow_zinc": (0.66, 0.53, 0.27, 0.34, 0.9, 0.10, 0.12),
    "steel": (0.45, 0.44, 0.43, 0.38, 1.0, 0.10, 0.14),
    "rust": (0.20, 0.085, 0.035, 0.85, 0.1, 0.06, 0.10),
    "black_rubber": (0.025, 0.025, 0.026, 0.75, 0.0, 0.015, 0.12),
    "red_rubber": (0.34, 0.04, 0.03, 0.60, 0.0, 0.08, 0.12),
    "blue_rubber": (0.03, 0.08, 0.30, 0.55, 0.0, 0.06, 0.12),
    "braid": (0.42, 0.42, 0.42, 0.55, 0.8, 0.10, 0.10),
    "black_plastic": (0.02, 0.02, 0.022, 0.35, 0.0, 0.012, 0.15),
    "white_plastic": (0.70, 0.68, 0.60, 0.40, 0.0, 0.10, 0.12),
    "paper": (0.45, 0.36, 0.22, 0.90, 0.0, 0.12, 0.05),
    "black_gasket": (0.03, 0.03, 0.03, 0.85, 0.0, 0.02, 0.08),
    "white_paint": (0.75, 0.75, 0.72, 0.50, 0.0, 0.08, 0.15),
    "yellow_paint": (0.75, 0.55, 0.05, 0.50, 0.0, 0.08, 0.15),
    "red_paint": (0.55, 0.04, 0.03, 0.45, 0.0, 0.08, 0.15),
    "black_paint": (0.02, 0.02, 0.02, 0.50, 0.0, 0.012, 0.15),
    "scribed_metal": (0.55, 0.55, 0.54, 0.45, 0.8, 0.08, 0.10),
    "grime": (0.02, 0.018, 0.015, 0.80, 0.0, 0.008, 0.08),
    "chrome": (0.78, 0.79, 0.80, 0.07, 1.0, 0.04, 0.04),
    "engine_green": (0.06, 0.16, 0.10, 0.35, 0.0, 0.05, 0.15),
    "engine_red": (0.40, 0.05, 0.03, 0.35, 0.0, 0.08, 0.15),
    "engine_black": (0.02, 0.02, 0.02, 0.35, 0.0, 0.01, 0.15),
    "engine_orange": (0.55, 0.16, 0.03, 0.35, 0.0, 0.08, 0.15),
    "engine_gold": (0.42, 0.30, 0.10, 0.40, 0.4, 0.08, 0.12),
    "body_white": (0.80, 0.80, 0.78, 0.14, 0.0, 0.06, 0.08),
    "body_red": (0.42, 0.02, 0.02, 0.14, 0.0, 0.10, 0.08),
    "body_green": (0.02, 0.09, 0.04, 0.14, 0.0, 0.05, 0.08),
    "body_blue": (0.06, 0.14, 0.36, 0.16, 0.0, 0.08, 0.08),
    "body_cream": (0.70, 0.62, 0.42, 0.18, 0.0, 0.08, 0.08),
    "body_primer": (0.22, 0.20, 0.19, 0.60, 0.0, 0.06, 0.12),
    # evaluation only
    "bronze_wash": (0.46, 0.36, 0.26, 0.42, 0.75, 0.08, 0.10),
    "hammer_grey": (0.24, 0.26, 0.28, 0.34, 0.3, 0.06, 0.10),
    "nickel_plate": (0.66, 0.61, 0.54, 0.18, 1.0, 0.06, 0.08),
    "blue_black_paint": (0.03, 0.035, 0.055, 0.30, 0.0, 0.02, 0.12),
    "engine_blue": (0.03, 0.10, 0.30, 0.35, 0.0, 0.06, 0.12),
    "engine_grey": (0.22, 0.23, 0.24, 0.40, 0.0, 0.06, 0.12),
    "body_yellow": (0.70, 0.48, 0.04, 0.15, 0.0, 0.08, 0.08),
    "body_brown": (0.14, 0.07, 0.04, 0.20, 0.0, 0.06, 0.08),
    "green_rubber": (0.04, 0.16, 0.08, 0.60, 0.0, 0.05, 0.12),
}

EVALUATION = frozenset(
    [
        "bronze_wash",
        "hammer_grey",
        "nickel_plate",
        "blue_black_paint",
        "engine_blue",
        "engine_grey",
        "body_yellow",
        "body_brown",
        "green_rubber",
    ]
)

_GROUPS: dict[str, tuple[str, ...]] = {
    "body": (
        "cast_aluminium", "cast_aluminium", "stained_aluminium", "oxidised_aluminium",
        "bead_blasted", "zinc_alloy", "polished_aluminium", "bronze_wash", "hammer_grey",
    ),
    "cover": (
        "cast_aluminium", "polished_aluminium", "polished_aluminium", "stained_aluminium",
        "oxidised_aluminium", "bead_blasted", "zinc_alloy", "dark_grey_paint", "black_satin",
        "black_crackle", "bronze_wash", "hammer_grey", "nickel_plate", "blue_black_paint",
    ),
    "cap": (
        "brass", "brass", "tarnished_brass", "black_plastic", "black_plastic", "zinc_plate",
        "nickel_plate",
    ),
    "screw": ("zinc_plate", "yellow_zinc", "steel", "steel", "rust", "black_satin", "nickel_plate"),
    "hose": ("black_rubber", "black_rubber", "braid", "red_rubber", "blue_rubber", "green_rubber"),
    "lever": ("zinc_plate", "yellow_zinc", "steel", "rust", "nickel_plate"),
    "gasket": ("paper", "black_gasket", "paper"),
    "paint_mark": ("white_paint", "yellow_paint", "red_paint", "black_paint"),
    "paint_on_dark": ("white_paint", "white_paint", "yellow_paint", "red_paint"),
    "paint_on_light": ("red_paint", "red_paint", "black_paint", "yellow_paint"),
    "filter": (
        "chrome", "black_satin", "black_crackle", "zinc_plate", "engine_gold", "engine_red",
        "body_blue", "hammer_grey",
    ),
    "engine": (
        "engine_green", "engine_red", "engine_black", "engine_orange", "engine_gold",
        "cast_aluminium", "engine_blue", "engine_grey",
    ),
    "panel": (
        "body_white", "body_red", "body_green", "body_blue", "body_cream", "body_primer",
        "black_satin", "body_yellow", "body_brown",
    ),
    "clutter": (
        "black_plastic", "white_plastic", "chrome", "black_rubber", "brass", "steel", "rust",
        "black_satin", "zinc_plate", "red_paint", "engine_grey", "nickel_plate",
    ),
}  # fmt: skip


def draw(rng: np.random.Generator, group: str, evaluation: bool) -> Material:
    """Draw a jittered material of a group; evaluation scenes prefer what is set aside for them."""
    names = _GROUPS[group]
    held = [n for n in names if n in EVALUATION]
    common = [n for n in names if n not in EVALUATION]
    pool = held if evaluation and held and rng.random() < 0.7 else common
    return named(rng, pool[rng.integers(len(pool))])


def named(rng: np.random.Generator, name: str) -> Material:
    """A jittered draw of one named material."""
    r, g, b, rough, metal, spread, rspread = _TABLE[name]
    tint = rng.normal(0, 0.25 * spread, 3)
    gain = float(np.exp(rng.normal(0, spread)))
    rgb = np.clip(np.array([r, g, b]) * gain + tint * np.array([r, g, b]), 0.003, 0.92)
    return Material(
        (float(rgb[0]), float(rgb[1]), float(rgb[2])),
        float(np.clip(rough + rng.normal(0, 0.6 * rspread), 0.06, 0.95)),
        float(np.clip(metal + (rng.normal(0, 0.05) if 0 < metal < 1 else 0), 0, 1)),
    )

"""Okabe and Ito's colours, told apart under simulated colour blindness.

Simulation: Viénot, Brettel and Mollon (1999), matrices for linear RGB, from memory;
differences by scikit-image's CIEDE2000.
"""

import itertools

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from carbpair.annotate import palette

USED = (
    palette.ORANGE,
    palette.SKY_BLUE,
    palette.BLUISH_GREEN,
    palette.YELLOW,
    palette.REDDISH_PURPLE,
)
PROTAN = np.array([[0.11238, 0.88762, 0], [0.11238, 0.88762, 0], [0.00401, -0.00401, 1]])
DEUTAN = np.array([[0.29275, 0.70725, 0], [0.29275, 0.70725, 0], [-0.02234, 0.02234, 1]])


@pytest.mark.parametrize("matrix", [np.eye(3), PROTAN, DEUTAN])
def test_colours_stay_apart(matrix: np.ndarray) -> None:
    linear = (np.array(USED) / 255.0) ** 2.2
    seen = np.clip(linear @ matrix.T, 0, 1) ** (1 / 2.2)
    lab = rgb2lab(seen[None])[0]
    for first, second in itertools.combinations(range(len(USED)), 2):
        assert deltaE_ciede2000(lab[first], lab[second]) > 10


def test_everything_shows_on_its_halo() -> None:
    # WCAG 2.1, 1.4.11: graphical objects need a contrast of 3 : 1.
    def luminance(colour: palette.Colour) -> float:
        v = np.array(colour) / 255.0
        linear = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)
        return float(linear @ [0.2126, 0.7152, 0.0722])

    for colour in (*USED, palette.WHITE):
        assert (luminance(colour) + 0.05) / (luminance(palette.DARK) + 0.05) > 3

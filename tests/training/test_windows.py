"""Training windows: what they show lies where their targets and the service's close-up say."""

from __future__ import annotations

import numpy as np
import pytest

pytest.importorskip("torch")

import torch
from models.training import windows
from models.training.data import COLUMN, NUMBERS, Crops
from models.training.scene.photograph import CLOSEUP, RIM

from carbpair.vision.closeup import refiner_input
from carbpair.vision.crop import Crop

PLACES = np.array(
    [[100 + 19 * k, 330 - 17 * k if k % 2 else 120 + 15 * k] for k in range(13)], float
)
"""Thirteen points of a close-up in its pixels."""


def with_spot(side: int, x: float, y: float) -> np.ndarray:
    """A dark picture (side, side, 3) with one bright spot."""
    c = np.arange(side) + 0.5
    off = (c - x)[None] ** 2 + (c - y)[:, None] ** 2
    return np.repeat((255 * np.exp(-off / (2 * 4.0**2)))[..., None], 3, 2).astype(np.uint8)


def window(pixels: np.ndarray, points: np.ndarray, **numbers: float) -> Crops:
    """One window that lies wholly in its photograph, without holes."""
    side = len(pixels)
    row = torch.zeros(1, len(NUMBERS))
    for name, value in numbers.items():
        row[0, COLUMN[name]] = value
    return Crops(
        torch.tensor(pixels)[None],
        torch.tensor(points, dtype=torch.float32)[None],
        torch.tensor([[0.0, 0, side, side]]),
        row,
        torch.zeros(1, 4, 3),
        torch.zeros(1, 3, 3),
        torch.zeros(1),
    )


def closeup_with(spot: int) -> Crops:
    """A dark close-up with one bright spot on one of the points."""
    return window(with_spot(CLOSEUP, *PLACES[spot]), PLACES, rim_px=200.0)


def centre(picture: np.ndarray) -> np.ndarray:
    """Centroid (x, y) of a picture (h, w) in pixels, centres at + 0.5."""
    c = np.arange(len(picture)) + 0.5
    return np.array([picture.sum(0) @ c, picture.sum(1) @ c]) / picture.sum()


@pytest.fixture
def plain_light(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without light and blur, which do not move anything."""
    monkeypatch.setattr(windows, "light", lambda x: x)


@pytest.mark.parametrize("spot", [0, 3, 8, 11])
def test_the_refiners_points_are_where_its_window_shows_them(plain_light: None, spot: int) -> None:
    torch.manual_seed(spot)
    mirrored = {3: 4, 4: 3, 8: 9, 9: 8}
    seen = set()
    for _ in range(8):
        image, target = windows.refiner_batch(closeup_with(spot), torch.tensor([0]))
        assert image.shape == (1, 3, 256, 256)
        assert target["kp"].shape == (1, 12, 2)
        points = target["kp"][0].numpy()
        shown = image[0, 1].numpy()
        near = [np.linalg.norm(points[k] - centre(shown)) for k in (spot, mirrored.get(spot, spot))]
        if ((points[spot] > 20) & (points[spot] < 236)).all() and min(near) < 1:
            seen.add(int(np.argmin(near)))
        else:
            # Only a window that leaves the spot out may show it elsewhere.
            assert not ((points > 20) & (points < 236)).all()
    # In a mirror image right and left change places.
    assert seen == ({0, 1} if spot in mirrored else {0})


def test_without_chance_the_refiner_sees_what_the_service_shows_it(
    plain_light: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(torch, "rand", lambda *size, device=None: torch.ones(size))
    monkeypatch.setattr(torch, "randn", lambda *size, device=None: torch.zeros(size))
    closeups = closeup_with(5)
    image, target = windows.refiner_batch(closeups, torch.tensor([0]))
    served = refiner_input(Crop(closeups.pixels[0].numpy(), (0.0, 0.0), 1.0))
    assert image[0].numpy() == pytest.approx(served, abs=6)
    assert centre(image[0, 1].numpy()) == pytest.approx(centre(served[1]), abs=0.05)
    # 21 of 448 pixels are left out on every side and the rest is 256 wide.
    want = (PLACES[:12] - 21) * 256 / 406
    assert target["kp"][0].numpy() == pytest.approx(want, abs=0.05)
    assert float(target["radius"]) == pytest.approx(100 * 256 / 406, abs=0.05)


def rim_with(spot: float, mark: float, partner: float) -> Crops:
    """A rim seen from above, its front below, with a bright spot at a bearing on its edge."""
    middle, radius = RIM / 2, 90.0
    b = np.radians(spot)
    # Bearings run clockwise from above; the intake is at the bottom of the picture.
    x, y = middle - radius * np.sin(b), middle + radius * np.cos(b)
    points = np.full((13, 2), middle)
    points[1:5] += radius * np.array([[0, 1], [0, -1], [1, 0], [-1, 0]])
    points[5, 1] -= 10  # the camera stands a little in front
    return window(
        with_spot(RIM, x, y), points, rim_px=2 * radius, bearing=mark, partner=partner,
        seen_mark=1.0, seen_partner=1.0, mark_px=12.0, native=1.0,
    )  # fmt: skip


@pytest.mark.parametrize("name", ["target", "partner"])
def test_the_strip_shows_a_mark_where_its_target_says(plain_light: None, name: str) -> None:
    torch.manual_seed(4)
    for bearing in (0.0, 90.0, -140.0):
        there, elsewhere = bearing, bearing + 60
        rim = rim_with(bearing, *((there, elsewhere) if name == "target" else (elsewhere, there)))
        for _ in range(4):  # each with a start and a side of its own
            strip, target = windows.rim_batch(rim, torch.tensor([0]))
            columns = strip[0, 1].sum(0)[36:756]
            shown = float(columns.argmax()) / 2  # two columns a degree
            want = float(target[name][0, :180].argmax()) * 2 + 1
            # a plane up to some hundredths of a radius off turns it by a few degrees
            assert abs((shown - want + 180) % 360 - 180) < 15
            assert float(target[name].sum()) == pytest.approx(1.0)


def test_a_soft_target_by_hand() -> None:
    target = windows.soft_target(torch.tensor([1.0, 359.0]), torch.tensor([True, False]))
    assert target[0].argmax() == 0
    # Two bins on: 4 degrees of a Gaussian of 2.5, on either side of the full circle.
    assert float(target[0, 2] / target[0, 0]) == pytest.approx(np.exp(-(4**2) / (2 * 2.5**2)))
    assert float(target[0, 2]) == pytest.approx(float(target[0, 178]))
    assert target[1].tolist() == [0.0] * 180 + [1.0]

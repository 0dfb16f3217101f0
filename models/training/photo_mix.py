"""Cases with one, two or three photos of the pair, as senders may send them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np
import numpy.typing as npt

from carbpair.identify import Calibration, Catalogue, Confusion
from carbpair.identify.simulated_case import CAR_STATED_SHARE, CaseSimulator
from carbpair.identify.simulation import Named, capped, draw_cases, look_alikes, named

from .rate import Rate

PHOTO_MIX = {1: 0.5, 2: 0.25, 3: 0.25}
"""How many photos of a pair are sent, with all asked for in view. A judgement, no source."""
STRANGERS = 3
"""Test cases of another source for each other one: a share of one in a hundred needs many."""


def measure_mix(
    catalogue: Catalogue, confusion: Confusion, calibration: Calibration, cases: int, seed: int
) -> dict[str, Any]:
    """What is named in ``cases`` cases of the mix, and in each number of photos of it.

    Each case is read and weighed with the figures that hold for its number of photos, as the
    identification does: of a number that was not measured, with those of the next smaller one.
    """
    generator = np.random.default_rng(seed)
    drawn = generator.multinomial(cases, list(PHOTO_MIX.values()))
    other = len(catalogue.patterns)
    parts = []
    for photos, count in zip(PHOTO_MIX, (int(n) for n in drawn), strict=True):
        tier = (catalogue, confusion.for_photos(photos), calibration.for_photos(photos))
        said, truths = _said(*tier, [None] * count, seed + 10 * photos)
        strange, _ = _said(*tier, [other] * STRANGERS * count, seed + 10 * photos + 1)
        parts.append((photos, said, truths < other, strange))
    return {
        "mix": {str(photos): share for photos, share in PHOTO_MIX.items()},
        "n": cases,
        "measured_photos": [tier.photos for tier in confusion.tiers],
        "all": _rates([part[1:] for part in parts]),
        "by_photos": {str(part[0]): _rates([part[1:]]) for part in parts},
    }


Part = tuple[Named, npt.NDArray[np.bool_], Named]
"""What is said of catalogue and other pairs, which of these are of the catalogue, and what is
said of pairs of another source."""


def _said(
    catalogue: Catalogue,
    confusion: Confusion,
    calibration: Calibration,
    truths: Sequence[int | None],
    seed: int,
) -> tuple[Named, npt.NDArray[np.int64]]:
    draw = draw_cases(CaseSimulator(catalogue, confusion), seed, truths)
    exact = draw.probabilities(calibration.temperature)
    said = named(
        capped(exact),
        exact[:, len(catalogue.patterns)],
        draw.truths,
        look_alikes(catalogue),
        calibration.answer_threshold,
        calibration.other_limit,
    )
    return said, draw.truths


def _rates(parts: list[Part]) -> dict[str, Any]:
    def rate(hits: list[int], of: list[int]) -> dict[str, Any]:
        return asdict(Rate(sum(hits), sum(of)))

    return {
        "coverage": rate(
            [int((said.answered & listed).sum()) for said, listed, _ in parts],
            [int(listed.sum()) for _, listed, _ in parts],
        ),
        "top1": rate(
            [int(said.right[said.answered].sum()) for said, _, _ in parts],
            [int(said.answered.sum()) for said, _, _ in parts],
        ),
        "other_source_not_named": rate(
            [int((~strange.answered).sum()) for _, _, strange in parts],
            [strange.answered.size for _, _, strange in parts],
        ),
    }


def mix_lines(mix: dict[str, Any], wanted: float, right: float, not_named: float) -> list[str]:
    """The section of the page; the three numbers are the targets."""
    shares = ", ".join(f"{share:.0%} {_photos(key)}" for key, share in mix["mix"].items())
    measured = " and ".join(str(n) for n in mix["measured_photos"])
    rows = [("the mix", mix["all"])]
    rows += [(f"of these, {_photos(key)}", rates) for key, rates in mix["by_photos"].items()]
    held = mix["all"]
    met = (
        held["coverage"]["share"] >= wanted
        and held["top1"]["share"] >= right
        and held["other_source_not_named"]["share"] >= not_named
    )
    return [
        "## As photos come",
        "",
        f"{mix['n']} cases as asked for, of which {shares} (judgement, no source), car stated in "
        f"{CAR_STATED_SHARE:.0%}, limits as shipped. Readers were measured on "
        f"{measured} photos of a pair; another number is read and weighed as the next smaller one.",
        "",
        "| photos | coverage | right among answered | other source not named |",
        "|---|---|---|---|",
        *(
            f"| {name} | "
            + " | ".join(_words(rates[key]) for key in ("coverage", "top1", _NOT_NAMED))
            + " |"
            for name, rates in rows
        ),
        "",
        f"Right ≥ {right:.0%} at coverage ≥ {wanted:.0%}, other source not named ≥ "
        f"{not_named:.0%}: {'met' if met else '**not met**'}.",
        "",
    ]


_NOT_NAMED = "other_source_not_named"


def _photos(count: str) -> str:
    return "one photo" if count == "1" else f"{count} photos"


def _words(rate: dict[str, Any]) -> str:
    return str(Rate(int(rate["count"]), int(rate["n"])))

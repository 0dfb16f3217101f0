"""Which service kit to consider, from the catalogue's own numbers. Never an order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from carbpair.identify.fact import CaseFacts
from carbpair.identify.feature import CARB_POSITIONS
from carbpair.identify.pattern import Pattern

CONFIRM = "Confirm tag first: read both tag numbers before anything is ordered."
MEASURE = (
    "Spindle play on each carburettor decides between the light kit and the full one with "
    "spindle bushes.",
    "Count and gauge the flange holes: the air flange gasket goes by them.",
    "Compare needle, jet and spring with the catalogue's reference figures.",
)
PAIR = 2


@dataclass(frozen=True)
class KitLine:
    """One number with its quantity for the pair."""

    number: str
    name: str
    quantity: int
    contents: tuple[str, ...] = ()


@dataclass(frozen=True)
class KitAdvice:
    """Advice for one candidate pattern.

    ``kind``: light, full, mixed (one carburettor worn), or undecided until play is measured.
    """

    pattern: str
    kind: str
    why: str
    kits: tuple[KitLine, ...]
    gaskets: tuple[KitLine, ...]
    measure_first: tuple[str, ...]
    confirm: str


def kit_advice(candidates: Sequence[Pattern], facts: CaseFacts) -> tuple[KitAdvice, ...]:
    """Advice for each candidate; empty where the catalogue lists no kit for it."""
    return tuple(_advice(pattern, facts) for pattern in candidates if pattern.kit)


def _advice(pattern: Pattern, facts: CaseFacts) -> KitAdvice:
    play = {position: facts.finding("spindle_play", position) for position in CARB_POSITIONS}
    worn = [position for position, value in play.items() if value == "excess"]
    within = [position for position, value in play.items() if value == "within"]
    if len(worn) == PAIR:
        kind, why = "full", "Spindle play is excessive on both carburettors."
        counts = {"full": PAIR}
    elif worn and within:
        kind, why = "mixed", f"Spindle play is excessive on the {worn[0]} carburettor only."
        counts = {"full": 1, "light": 1}
    elif len(within) == PAIR:
        kind, why = "light", "Spindle play is within limits on both carburettors."
        counts = {"light": PAIR}
    else:
        kind = "undecided"
        why = "Spindle play has not been measured on both carburettors: both kits are listed."
        counts = {"light": PAIR, "full": PAIR}
    kits = [
        KitLine(
            kit.number,
            f"{kit.kind} service kit" if kit.kind == "light" else "full repair kit",
            counts[kit.kind] if kit.per == "carb" else 1,
            tuple(kit.contents),
        )
        for kit in pattern.kit
        if kit.kind in counts
    ]
    missing = [name for name in counts if all(kit.kind != name for kit in pattern.kit)]
    notes = tuple(f"The catalogue lists no {name} kit for this pattern." for name in missing)
    holes = facts.finding("flange_holes") or (
        None if pattern.flange_holes is None else str(pattern.flange_holes)
    )
    gaskets = tuple(
        KitLine(g.number, g.name, g.quantity * (PAIR if g.per == "carb" else 1))
        for g in pattern.gasket
        if g.flange_holes is None or str(g.flange_holes) == holes
    )
    measure = MEASURE if kind == "undecided" else MEASURE[1:]
    return KitAdvice(pattern.id, kind, why, tuple(kits), gaskets, (*measure, *notes), CONFIRM)

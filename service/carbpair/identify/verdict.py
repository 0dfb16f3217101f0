"""Whether to name a pattern, and what to say when not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from carbpair.identify.calibration import NO_LIMIT
from carbpair.identify.inseparable import Inseparable
from carbpair.identify.posterior import MIXED, OTHER, PHOTO_CAP, Posterior

NAMED_OTHERWISE = 0.5
"""Other source or mixed pair is said when it is likelier than everything else together."""


@dataclass(frozen=True)
class Verdict:
    """``kind`` as in Identification.verdict; ``group`` only for that kind."""

    kind: str
    answer: str | None
    probability: float
    group: tuple[str, ...] = ()


def decide(
    held: Posterior,
    groups: Sequence[Inseparable],
    threshold: float,
    contradictions: Sequence[str],
    photos_only: bool,
    other_limit: float = NO_LIMIT,
) -> Verdict:
    """Name a pattern at ``threshold`` or more, otherwise say what is known instead.

    ``other_limit``: largest probability of another source, before the ceiling for photos alone,
    with which anything is named. A pattern can be far ahead of every other pattern and a pair
    from elsewhere still share by chance all that was seen of it.
    """
    best = held.best
    name, share = held.ids[best], float(held.probabilities[best])
    if contradictions:
        return Verdict("contradiction", None, share)
    if name in {OTHER, MIXED}:
        return Verdict(name if share >= NAMED_OTHERWISE else "undecided", None, share)
    if float(held.uncapped[held.ids.index(OTHER)]) > other_limit:
        return Verdict("undecided", None, share)
    for group in groups:
        # A stated car may favour one of two look-alikes; it takes a hand check to name it.
        if name in group.ids and group.reason == "no_photo_can":
            together = sum(held.probability(member) for member in group.ids)
            if photos_only:
                together = min(together, PHOTO_CAP)
            if together >= threshold:
                return Verdict("group", None, together, group.ids)
            return Verdict("undecided", None, share)
    if share >= threshold:
        return Verdict("pattern", name, share)
    return Verdict("undecided", None, share)

"""How often a feature is answered, and how often the answer is right."""

from collections import Counter
from collections.abc import Sequence
from typing import Any

from carbpair.evaluate.candidate import candidates
from carbpair.evaluate.intervals import share
from carbpair.evaluate.reliability import reliability
from carbpair.evaluate.risk_coverage import risk_coverage
from carbpair.evaluate.scored import Case


def feature_table(cases: Sequence[Case]) -> dict[str, Any]:
    """Coverage, accuracy, why not answered, by true value; risk–coverage and reliability."""
    guesses = candidates(cases)
    values = sorted({c.truth for c in cases}, key=str)
    return {
        **answered(cases),
        "by_value": {
            str(v).lower(): answered([c for c in cases if c.truth == v], reasons=False)
            for v in values
        },
        "risk_coverage": risk_coverage(guesses, len(cases)),
        "reliability": reliability(guesses),
    }


def answered(cases: Sequence[Case], reasons: bool = True) -> dict[str, Any]:
    """Coverage and accuracy of cases."""
    said = [c for c in cases if c.reading.status == "seen"]
    out: dict[str, Any] = {
        "coverage": share(len(said), len(cases)),
        "accuracy_of_answers": share(sum(c.truth == c.reading.value for c in said), len(said)),
    }
    if reasons:
        held = (c.reading for c in cases if c.reading.status != "seen")
        out["not_answered"] = dict(Counter(f"{f.status}: {f.reason}" for f in held))
    return out


def answers(cases: Sequence[Case]) -> dict[str, Any]:
    """Share of cases that were answered at all."""
    return share(sum(c.reading.status == "seen" for c in cases), len(cases))

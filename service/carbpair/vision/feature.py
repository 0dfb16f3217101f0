"""One reading: a value with its probability, or the reason why there is none."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

Status = Literal["seen", "unsure", "not_visible"]
Value = int | float | str | bool


@dataclass(frozen=True, slots=True)
class Feature:
    """A reading of one feature.

    `value` is None unless `status` is "seen". `probability` is the calibrated chance that the
    likeliest value is right; None when nothing was seen. `distribution` gives the posterior over
    values (keys as text) or, for a bearing, `mean_deg` and `sd_deg`. `interval_deg` is the 90 %
    interval of a bearing.
    """

    value: Value | None
    probability: float | None
    status: Status
    reason: str | None = None
    distribution: Mapping[str, float] | None = None
    interval_deg: tuple[float, float] | None = None

    def as_json(self) -> dict[str, Any]:
        """The reading as the inspection's JSON has it."""
        out: dict[str, Any] = {
            "value": self.value,
            "probability": _rounded(self.probability),
            "status": self.status,
            "reason": self.reason,
            "distribution": None
            if self.distribution is None
            else {k: round(float(v), 4) for k, v in self.distribution.items()},
        }
        if self.interval_deg is not None:
            out["interval_deg"] = [round(v, 1) for v in self.interval_deg]
        return out


def hidden(reason: str) -> Feature:
    """A feature that cannot be seen, and why."""
    return Feature(None, None, "not_visible", reason)


def judged(
    distribution: Mapping[str, float], values: Mapping[str, Value], threshold: float
) -> Feature:
    """Answer with the likeliest value if its probability reaches `threshold`, else be unsure."""
    best = max(distribution, key=lambda k: distribution[k])
    p = float(distribution[best])
    if p >= threshold:
        return Feature(values[best], p, "seen", None, dict(distribution))
    return Feature(None, p, "unsure", "low_confidence", dict(distribution))


def unsure(feature: Feature, reason: str) -> Feature:
    """The same reading, held back for a reason; its distribution stays as soft evidence."""
    if feature.status == "not_visible":
        return feature
    return Feature(None, feature.probability, "unsure", reason, feature.distribution, None)


def _rounded(p: float | None) -> float | None:
    return None if p is None else round(float(p), 4)

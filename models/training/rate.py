"""A counted share with its exact interval."""

from __future__ import annotations

from dataclasses import dataclass, field

from scipy import stats


@dataclass(frozen=True)
class Rate:
    """A share with its exact 95 % interval (Clopper and Pearson)."""

    count: int
    n: int
    share: float = field(init=False)
    interval: tuple[float, float] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "share", self.count / self.n if self.n else float("nan"))
        if self.n == 0:  # of nothing, nothing is known
            object.__setattr__(self, "interval", (0.0, 1.0))
            return
        exact = stats.binomtest(self.count, self.n).proportion_ci(method="exact")
        object.__setattr__(self, "interval", (float(exact.low), float(exact.high)))

    def __str__(self) -> str:
        if self.n == 0:
            return "none (n = 0)"
        low, high = self.interval
        return f"{self.share:.1%} ({low:.1%} to {high:.1%}, n = {self.n})"

"""Times the identification: posterior, catalogue loading, and TOML against YAML.

    python benchmarks/identify.py

Targets: posterior over 500 patterns and 40 features ≤ 5 ms; a catalogue of 10,000 fitments
loaded and checked ≤ 300 ms. One process; the median of repeated runs, with the slowest.
"""

from __future__ import annotations

import importlib.util
import time
import tomllib
from collections.abc import Callable

import numpy as np
import rtoml

from carbpair.identify.catalogue_file import parse_catalogue
from carbpair.identify.confusion import LabelConfusion
from carbpair.identify.pattern_table import PatternTable
from carbpair.identify.photo_evidence import label_evidence
from carbpair.identify.posterior import posterior
from carbpair.identify.prior import prior_for
from carbpair.identify.reading import LabelReading

PATTERNS, FEATURES, FITMENTS = 500, 40, 10_000
POSTERIOR_MS, LOAD_MS = 5.0, 300.0


def timed(work: Callable[[], object], runs: int) -> tuple[float, float]:
    """Median and slowest of ``runs``, in milliseconds, after one warm-up."""
    work()
    taken = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        taken.append((time.perf_counter() - start) * 1e3)
    return float(np.median(taken)), max(taken)


def large_posterior() -> Callable[[], object]:
    """Soft readings of 40 features on both carburettors against 500 patterns."""
    generator = np.random.default_rng(1)
    values = ("a", "b", "c", "d")
    names = [f"feature_{number}" for number in range(FEATURES)]
    table = PatternTable(
        tuple(f"pattern_{number}" for number in range(PATTERNS)),
        {name: generator.integers(-1, len(values), PATTERNS) for name in names},
        dict.fromkeys(names, values),
        np.full(PATTERNS, np.nan),
    )
    counts = np.full((4, 6), 2.0) + np.eye(4, 6) * 200
    confusion = LabelConfusion(values, counts, np.full(4, 0.25), 0.5)
    readings = {
        name: tuple(
            LabelReading("seen", value, dict(zip(values, belief, strict=True)))
            for value, belief in (
                (values[int(np.argmax(b))], b) for b in generator.dirichlet(np.ones(4), 2)
            )
        )
        for name in names
    }
    prior = prior_for({name: place for place, name in enumerate(table.ids)}, ())

    def work() -> object:
        items = [
            label_evidence(name, left, right, table, confusion)
            for name, (left, right) in readings.items()
        ]
        return posterior(table.ids, prior, [item for item in items if item is not None], True)

    return work


def large_catalogue() -> str:
    """A catalogue of 500 patterns and 10,000 fitments as TOML."""
    lines = [
        'schema = "carbpair/catalogue/1"',
        "[catalogue]",
        'id = "large"',
        'name = "Benchmark"',
        'version = "1"',
    ]
    for number in range(PATTERNS):
        lines += [
            "[[pattern]]",
            f'id = "p{number}"',
            f'name = "Pattern {number}"',
            'chamber = "piston"',
            f"flange_holes = {2 + number % 3}",
            'bowl_layout = "inboard"',
            "mark = { bearing_deg = 0, tolerance_deg = 15 }",
        ]
    for number in range(FITMENTS):
        lines += [
            "[[fitment]]",
            f'car = "Car {number % 997}"',
            f'engine = "Engine {number % 13}"',
            f"years = [{1950 + number % 20}, {1955 + number % 20}]",
            'market = "home"',
            f'pattern = "p{number % PATTERNS}"',
        ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Print every figure with its target."""
    median, slowest = timed(large_posterior(), 200)
    print(
        f"posterior, {PATTERNS} patterns × {FEATURES} features on both carburettors: "
        f"median {median:.2f} ms, slowest {slowest:.2f} ms of 200 (target ≤ {POSTERIOR_MS} ms)"
    )
    text = large_catalogue()
    data = text.encode()
    median, slowest = timed(lambda: parse_catalogue(data, "large.toml"), 10)
    print(
        f"load and check, {FITMENTS} fitments, {len(data) / 1e6:.1f} MB: median {median:.0f} ms, "
        f"slowest {slowest:.0f} ms of 10 (target ≤ {LOAD_MS:.0f} ms)"
    )
    print("parsing alone, the same content:")
    print(f"  TOML, rtoml   {timed(lambda: rtoml.loads(text), 5)[0]:8.0f} ms")
    print(f"  TOML, tomllib {timed(lambda: tomllib.loads(text), 2)[0]:8.0f} ms")
    if importlib.util.find_spec("yaml") is not None:
        import yaml

        as_yaml = yaml.safe_dump(rtoml.loads(text))
        loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
        taken = timed(lambda: yaml.load(as_yaml, loader), 2)[0]  # noqa: S506 - a safe loader
        print(f"  YAML, {loader.__name__} {taken:8.0f} ms")


if __name__ == "__main__":
    main()

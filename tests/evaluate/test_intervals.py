"""Intervals against SciPy."""

import numpy as np
import pytest
from scipy import stats

from carbpair.evaluate.intervals import bootstrap, share, wilson


@pytest.mark.parametrize(("hits", "n"), [(0, 10), (10, 10), (7, 10), (160, 194), (1, 380)])
def test_wilson_is_scipys(hits: int, n: int) -> None:
    want = stats.binomtest(hits, n).proportion_ci(method="wilson")
    assert wilson(hits, n) == pytest.approx((want.low, want.high), abs=1e-4)


def test_share_states_n_and_no_case_is_none() -> None:
    assert share(3, 4)["share"] == 0.75
    assert share(3, 4)["n"] == 4
    assert share(0, 0)["share"] is None
    assert share(0, 0)["interval95"] == [0.0, 1.0]


def test_bootstrap_is_near_scipys() -> None:
    x = np.random.default_rng(5).exponential(3.0, 200)
    ours = bootstrap(list(x), "mean")
    want = stats.bootstrap((x,), np.mean, method="percentile", random_state=1).confidence_interval
    assert ours["value"] == pytest.approx(x.mean(), abs=1e-3)
    assert ours["interval95"] == pytest.approx([want.low, want.high], abs=0.1)
    assert bootstrap(list(x), "p95")["value"] == pytest.approx(np.quantile(x, 0.95), abs=1e-3)
    assert bootstrap([], "mean") == {"n": 0, "value": None, "interval95": [None, None]}

"""Bayes against scikit-learn, against a Bayesian-network library (pyAgrum), by brute force."""

import numpy as np
import pyagrum as gum
import pytest
from sklearn.naive_bayes import CategoricalNB

from carbpair.identify.evidence import Evidence, log
from carbpair.identify.pattern_table import PatternTable, encode
from carbpair.identify.photo_evidence import label_evidence
from carbpair.identify.posterior import (
    PHOTO_CAP,
    cap,
    log_mixed,
    log_odds_bits,
    log_posterior,
    posterior,
    weights_in_bits,
)
from carbpair.identify.prior import Prior
from carbpair.identify.reading import UNSEEN, LabelReading
from tests.identify.example import label, label_confusion

ABC = ("a", "b", "c")


def table(rows: list[dict[str, str | None]]) -> PatternTable:
    names = list(rows[0])
    return PatternTable(
        tuple(f"p{n}" for n in range(len(rows))),
        {name: encode([row[name] for row in rows], ABC) for name in names},
        dict.fromkeys(names, ABC),
        np.full(len(rows), np.nan),
        {f"p{n}": n for n in range(len(rows))},
    )


ROWS: list[dict[str, str | None]] = [
    {"one": "a", "two": "a"},
    {"one": "a", "two": "b"},
    {"one": "b", "two": "c"},
    {"one": "c", "two": "c"},
]


def test_naive_bayes_with_the_same_tables_is_sklearns() -> None:
    confusion = label_confusion(ABC, 80, 10)
    held = table(ROWS)
    # The classifier is given the very tables: class log priors and feature log likelihoods.
    model = CategoricalNB().fit(
        np.array([[x, x] for x in range(3)] * 4), np.repeat(np.arange(4), 3)
    )
    prior = np.array([0.4, 0.3, 0.2, 0.1])
    model.class_log_prior_ = np.log(prior)
    model.feature_log_prob_ = [
        np.log(np.stack([confusion.likelihood[ABC.index(str(row[name]))] for row in ROWS]))
        for name in ("one", "two")
    ]
    for one, two in [("a", "b"), ("c", "c"), ("b", "a")]:
        items = [
            label_evidence(name, LabelReading("seen", value), UNSEEN, held, confusion)
            for name, value in (("one", one), ("two", two))
        ]
        mine = np.exp(log_posterior(Prior(prior), [x for x in items if x is not None])[:4])
        theirs = model.predict_proba([[ABC.index(one), ABC.index(two)]])[0]
        assert mine / mine.sum() == pytest.approx(theirs)


def _network(prior: np.ndarray, tables: dict[str, np.ndarray]) -> gum.BayesNet:
    net = gum.BayesNet()
    net.add(gum.LabelizedVariable("source", "", len(prior)))
    net.cpt("source")[:] = prior
    for name, rows in tables.items():
        net.add(gum.LabelizedVariable(name, "", rows.shape[1]))
        net.addArc("source", name)
        for k, row in enumerate(rows):
            net.cpt(name)[{"source": k}] = row
    return net


def test_soft_evidence_other_source_and_missing_evidence_are_pyagrums() -> None:
    confusion = label_confusion(ABC, 400, 5)
    held = table(ROWS)
    prior = Prior(np.array([0.4, 0.3, 0.1, 0.05]), 0.12, 0.03)
    soft = LabelReading("unsure", None, {"a": 0.2, "b": 0.5, "c": 0.3})
    first = label_evidence("one", soft, UNSEEN, held, confusion)
    second = label_evidence("two", UNSEEN, UNSEEN, held, confusion)
    assert first is not None
    assert second is None
    mine = np.exp(log_posterior(prior, [first])[:5])
    # True value of the feature given the source; "other" takes every value equally.
    truth = np.array([[float(v == row["one"]) for v in ABC] for row in ROWS] + [[1 / 3] * 3])
    two = np.array([[float(v == row["two"]) for v in ABC] for row in ROWS] + [[1 / 3] * 3])
    weights = np.append(prior.patterns, prior.other)
    net = _network(weights / weights.sum(), {"one": truth, "two": two})
    inference = gum.LazyPropagation(net)
    inference.addEvidence("one", [0.2, 0.5, 0.3])
    inference.makeInference()
    theirs = np.array(inference.posterior("source").tolist())
    assert mine / mine.sum() == pytest.approx(theirs)


def test_the_common_cause_of_both_readings_is_pyagrums() -> None:
    """The pair model as an explicit network: cause, two readings, one shared truth."""
    rho = 0.4
    confusion = label_confusion(("a", "b"), 90, 10, rho=rho)
    net = gum.BayesNet()
    for name in ("truth", "cause", "left", "right"):
        net.add(gum.LabelizedVariable(name, "", 2))
    for a, b in (("truth", "left"), ("truth", "right"), ("cause", "right"), ("left", "right")):
        net.addArc(a, b)
    net.cpt("truth")[:] = [0.3, 0.7]
    net.cpt("cause")[:] = [1 - rho, rho]
    for t in range(2):
        net.cpt("left")[{"truth": t}] = confusion.likelihood[t]
        for seen in range(2):
            net.cpt("right")[{"truth": t, "cause": 0, "left": seen}] = confusion.likelihood[t]
            net.cpt("right")[{"truth": t, "cause": 1, "left": seen}] = np.eye(2)[seen]
    held = PatternTable(
        ("pa", "pb"),
        {"x": encode(["a", "b"], ("a", "b"))},
        {"x": ("a", "b")},
        np.full(2, np.nan),
    )
    for left, right in ((0, 0), (0, 1), (1, 1)):
        inference = gum.LazyPropagation(net)
        inference.setEvidence({"left": left, "right": right})
        inference.makeInference()
        theirs = np.array(inference.posterior("truth").tolist())
        item = label_evidence(
            "x",
            LabelReading("seen", "ab"[left]),
            LabelReading("seen", "ab"[right]),
            held,
            # Every look is answered here, so nothing is conditioned on.
            confusion,
        )
        assert item is not None
        mine = np.array([0.3, 0.7]) * np.exp(item.pair[:2])
        assert mine / mine.sum() == pytest.approx(theirs)


def random_items(seed: int, size: int, count: int = 3) -> list[Evidence]:
    generator = np.random.default_rng(seed)
    return [
        Evidence(f"e{n}", "photo", "", *(np.log(generator.random(size) + 0.01) for _ in range(3)))
        for n in range(count)
    ]


@pytest.mark.parametrize("seed", range(4))
def test_mixed_pair_is_the_sum_over_all_unequal_pairs(seed: int) -> None:
    generator = np.random.default_rng(seed)
    size = 7
    own, odd = generator.dirichlet(np.ones(size)), generator.dirichlet(np.ones(size))
    left, right = np.log(generator.random(size)), np.log(generator.random(size))
    total = apart = 0.0
    for a in range(size):
        for b in range(size):
            if a != b or a == size - 1:  # two of another source need not be alike
                weight = own[a] * odd[b] / 2 + odd[a] * own[b] / 2
                total += weight * np.exp(left[a] + right[b])
                apart += weight
    assert log_mixed(own, odd, left, right) == pytest.approx(np.log(total / apart))


def test_mixed_pair_keeps_its_digits_when_one_pattern_takes_all() -> None:
    single = np.array([0.5, 0.3, 0.2])
    left = right = np.array([0.0, -60.0, -70.0])
    expected = 0.5 * 0.3 * np.exp(-60) * 2 + 0.5 * 0.2 * np.exp(-70) * 2
    expected = np.log(expected) - np.log(1 - 0.25 - 0.09)
    assert log_mixed(single, single, left, right) == pytest.approx(expected)


def test_a_pair_of_the_only_pattern_there_is_cannot_be_mixed() -> None:
    one = np.array([1.0, 0.0])
    assert log_mixed(one, one, np.zeros(2), np.zeros(2)) == -np.inf


def test_probabilities_sum_to_one_and_order_of_evidence_does_not_matter() -> None:
    prior = Prior(np.full(4, 0.2125))
    items = random_items(1, 5)
    one = posterior(("a", "b", "c", "d"), prior, items, photos_only=False)
    two = posterior(("a", "b", "c", "d"), prior, items[::-1], photos_only=False)
    assert one.probabilities.sum() == pytest.approx(1.0)
    assert one.probabilities == pytest.approx(two.probabilities)


def test_no_evidence_leaves_the_prior() -> None:
    prior = Prior(np.array([0.5, 0.35]), 0.12, 0.03)
    found = posterior(("a", "b"), prior, [], photos_only=True)
    assert found.probabilities == pytest.approx([0.5, 0.35, 0.12, 0.03])


def test_photos_alone_never_exceed_the_ceiling() -> None:
    strong = Evidence("x", "photo", "", *(np.array([0.0, -40.0, -40.0]) for _ in range(3)))
    prior = Prior(np.array([0.5, 0.35]))
    photos = posterior(("a", "b"), prior, [strong], photos_only=True)
    assert photos.probabilities[0] == PHOTO_CAP
    assert photos.probabilities.sum() == pytest.approx(1.0)
    assert posterior(("a", "b"), prior, [strong], photos_only=False).probabilities[0] > PHOTO_CAP


def test_the_ceiling_keeps_the_rest_in_proportion() -> None:
    capped = cap(np.array([0.998, 0.0015, 0.0005]), 0.99)
    assert capped == pytest.approx([0.99, 0.0075, 0.0025])
    assert cap(np.array([1.0, 0.0, 0.0]), 0.99) == pytest.approx([0.99, 0.005, 0.005])
    untouched = np.array([0.6, 0.4])
    assert cap(untouched, 0.99) is untouched


def test_weights_of_evidence_add_up_to_the_log_odds() -> None:
    prior = Prior(np.array([0.4, 0.25, 0.2]))
    items = random_items(5, 4, 4)
    for chosen in ([0], [0, 2], [4]):
        before = log_odds_bits(log_posterior(prior, []), chosen)
        after = log_odds_bits(log_posterior(prior, items), chosen)
        assert before + sum(weights_in_bits(prior, items, chosen)) == pytest.approx(after)


def test_a_pattern_whose_value_is_not_known_is_neither_favoured_nor_ruled_out() -> None:
    held = table([{"one": "a"}, {"one": None}, {"one": "b"}])
    item = label_evidence("one", label("a"), UNSEEN, held, label_confusion(ABC, 90, 5))
    assert item is not None
    assert item.pair[0] > item.pair[1] > item.pair[2]
    assert item.pair[1] == pytest.approx(item.pair[-1])


def test_an_impossible_likelihood_is_floored() -> None:
    assert np.isfinite(log(np.array([0.0, 1.0]))).all()

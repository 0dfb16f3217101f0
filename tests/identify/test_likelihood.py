import dataclasses

import numpy as np
import pytest

from carbpair.identify.confusion import LabelConfusion
from carbpair.identify.likelihood import favoured_value, joint_likelihood, soft_likelihood
from carbpair.identify.reading import UNSEEN, LabelReading
from tests.identify.example import label_confusion

ABC = ("a", "b", "c")


def test_a_hard_answer_is_worth_its_measured_confusion() -> None:
    confusion = label_confusion(ABC, 90, 5)
    found = soft_likelihood(LabelReading("seen", "b"), confusion)
    assert found == pytest.approx(confusion.likelihood[:, 1])


def test_an_over_confident_reader_is_held_at_its_measured_confusion() -> None:
    confusion = label_confusion(ABC, 90, 5)
    sure = LabelReading("seen", "b", {"a": 0.0, "b": 1.0, "c": 0.0})
    assert soft_likelihood(sure, confusion) == pytest.approx(confusion.likelihood[:, 1])


def test_a_doubtful_reader_counts_for_its_own_doubt() -> None:
    confusion = label_confusion(ABC, 900, 5)
    found = soft_likelihood(LabelReading("unsure", None, {"a": 0.2, "b": 0.6, "c": 0.2}), confusion)
    assert found is not None
    assert found[1] / found[0] == pytest.approx(3.0)


def test_an_unsure_reader_is_held_at_the_record_of_unsure_readings() -> None:
    # Right in 990 of 1000 answers says nothing of the readings that it held back.
    confusion = label_confusion(ABC, 990, 5)
    sure = {"a": 0.005, "b": 0.99, "c": 0.005}
    found = soft_likelihood(LabelReading("unsure", None, sure), confusion)
    assert found == pytest.approx(confusion.unsure_likelihood[:, 1])


def test_a_sure_answer_is_held_at_the_record_of_sure_answers() -> None:
    confusion = dataclasses.replace(
        label_confusion(ABC, 90, 5), sure=np.array([[70.0, 0, 0], [0, 80.0, 0], [0, 0, 60.0]])
    )
    sure = soft_likelihood(LabelReading("seen", "b", {"a": 0.0, "b": 1.0, "c": 0.0}), confusion)
    looked_at = 90 + 5 + 5 + 3
    assert sure == pytest.approx(np.array([0.5, 80.5, 0.5]) / looked_at)
    less = soft_likelihood(LabelReading("seen", "b", {"a": 0.01, "b": 0.98, "c": 0.01}), confusion)
    assert less is not None
    # 10 of the 90 right answers and all wrong ones were of this kind.
    assert less[0] / less[1] == pytest.approx(5.5 / 10.5)


def test_the_readers_own_training_frequencies_are_not_evidence() -> None:
    # A reader trained where "a" made up 80 % and answering just that has seen nothing.
    base = label_confusion(ABC, 900, 5)
    prior = np.array([0.8, 0.1, 0.1])
    confusion = LabelConfusion(ABC, base.counts, prior, 0.0)
    reading = LabelReading("unsure", None, dict(zip(ABC, prior, strict=True)))
    found = soft_likelihood(reading, confusion)
    assert found is not None
    assert found / found[0] == pytest.approx([1.0, 1.0, 1.0])


def test_unseen_and_unmeasured_values_are_neutral() -> None:
    confusion = label_confusion(ABC, 90, 5)
    assert soft_likelihood(UNSEEN, confusion) is None
    assert soft_likelihood(LabelReading("seen", "d"), confusion) is None
    assert soft_likelihood(LabelReading("unsure"), confusion) is None
    assert favoured_value(UNSEEN, confusion) is None
    assert favoured_value(LabelReading("unsure", None, {"c": 0.9}), confusion) == "c"


def test_what_a_distribution_leaves_out_is_shared() -> None:
    confusion = label_confusion(ABC, 900, 5)
    found = soft_likelihood(LabelReading("seen", "b", {"b": 0.8}), confusion)
    assert found is not None
    assert found[1] / found[0] == pytest.approx(8.0)
    assert found[0] == pytest.approx(found[2])


def test_joint_probabilities_of_all_answer_pairs_sum_to_one() -> None:
    # The common-cause model must be a probability: over all pairs of answers, for each truth.
    confusion = label_confusion(ABC, 90, 5, rho=0.4)
    for truths in ((0, 0), (0, 2)):
        total = 0.0
        for one in range(3):
            for two in range(3):
                joint = joint_likelihood(
                    confusion.likelihood[:, one], confusion.likelihood[:, two], 0.4, one == two
                )
                assert joint is not None
                total += joint[truths]
        # sqrt(L L) equals L only where both answers agree, so the equal case is exact too.
        assert total == pytest.approx(1.0)


@pytest.mark.parametrize("rho", [0.0, 0.5, 1.0])
def test_a_second_agreeing_carburettor_counts_between_nothing_and_twice(rho: float) -> None:
    confusion = label_confusion(ABC, 90, 5, rho=rho)
    one = confusion.likelihood[:, 1]
    joint = joint_likelihood(one, one, rho, True)
    assert joint is not None
    odds = joint[1, 1] / joint[0, 0]
    single = one[1] / one[0]
    assert single - 1e-9 <= odds <= single**2 + 1e-9
    if rho == 1.0:
        assert odds == pytest.approx(single)
    if rho == 0.0:
        assert odds == pytest.approx(single**2)


def test_a_missing_side_leaves_the_other_as_it_is() -> None:
    one = np.array([0.9, 0.05, 0.05])
    left = joint_likelihood(one, None, 0.5, False)
    right = joint_likelihood(None, one, 0.5, False)
    assert left is not None
    assert right is not None
    assert np.diagonal(left) == pytest.approx(one)
    assert np.diagonal(right) == pytest.approx(one)
    assert pytest.approx(right) == left.T
    assert joint_likelihood(None, None, 0.5, False) is None

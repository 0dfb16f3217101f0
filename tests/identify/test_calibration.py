"""Reliability against scikit-learn's calibration_curve; files against what they were made for."""

import json

import numpy as np
import pytest
from sklearn.calibration import calibration_curve

from carbpair.identify.calibration import (
    Calibration,
    calibration_file,
    dump_calibration,
    expected_calibration_error,
    load_calibration,
    noise_floor,
    reliability_table,
)
from carbpair.identify.catalogue_file import demo_catalogue
from carbpair.identify.error import BadInputError
from tests.identify.example import confusion


def draw(n: int, bend: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
    generator = np.random.default_rng(4)
    stated = generator.beta(4, 1.5, n)
    return stated, (generator.random(n) < stated**bend).astype(float)


def test_table_is_sklearns_calibration_curve() -> None:
    stated, right = draw(5000)
    observed, mean = calibration_curve(right, stated, n_bins=10, strategy="uniform")
    rows = reliability_table(stated, right)
    assert [row.observed for row in rows] == pytest.approx(observed.tolist())
    assert [row.stated for row in rows] == pytest.approx(mean.tolist())
    assert sum(row.n for row in rows) == 5000


def test_error_is_the_weighted_gap_of_that_curve() -> None:
    stated, right = draw(5000, 2.0)
    observed, mean = calibration_curve(right, stated, n_bins=10, strategy="uniform")
    weights = np.histogram(stated, bins=10, range=(0, 1))[0]
    weights = weights[weights > 0] / 5000
    assert expected_calibration_error(stated, right) == pytest.approx(
        float(np.sum(weights * np.abs(observed - mean)))
    )


def test_a_calibrated_model_stays_below_its_floor_and_a_bent_one_does_not() -> None:
    stated, right = draw(4000)
    floor = noise_floor(stated)
    assert expected_calibration_error(stated, right) < floor
    assert expected_calibration_error(*draw(4000, 1.6)) > 2 * floor


def test_the_floor_falls_with_the_square_root_of_n() -> None:
    few, many = noise_floor(draw(500)[0]), noise_floor(draw(8000)[0])
    assert few / many == pytest.approx(4.0, rel=0.25)


def test_a_calibration_is_used_only_for_the_data_it_was_fitted_on(tmp_path) -> None:
    catalogue, errors = demo_catalogue(), confusion()
    kept = Calibration(0.97, 0.9, conformal={"a": 0.5}, cases=100)
    file = calibration_file(tmp_path / "mine.toml")
    assert file.name == "mine.calibration.json"
    written = dump_calibration(kept, catalogue, errors)
    file.write_text(json.dumps(written))
    assert load_calibration(catalogue, errors, file) == kept
    file.write_text(json.dumps({**written, "catalogue_sha256": "other"}))
    assert not load_calibration(catalogue, errors, file).fitted
    assert not load_calibration(catalogue, errors, tmp_path / "absent.json").fitted


@pytest.mark.parametrize("text", ["{", "[]", '{"schema": "x"}', '{"schema": 1}'])
def test_a_broken_calibration_says_how_to_remake_it(tmp_path, text: str) -> None:
    file = tmp_path / "c.json"
    file.write_text(text)
    with pytest.raises(BadInputError, match="catalogue calibrate"):
        load_calibration(demo_catalogue(), confusion(), file)

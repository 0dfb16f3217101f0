import json
from pathlib import Path

import pytest

from carbpair.settings import default_model_dir
from carbpair.vision.calibration import Calibration, load_calibration


def test_values_of_the_file_replace_defaults(tmp_path: Path) -> None:
    values = {"holes_threshold": 0.97, "bearing_sd_deg": 2.5}
    (tmp_path / "calibration.json").write_text(json.dumps({"values": values}))
    got = load_calibration(tmp_path)
    assert (got.holes_threshold, got.bearing_sd_deg) == (0.97, 2.5)
    assert got.hand_threshold == Calibration().hand_threshold


def test_without_a_file_the_defaults_stand(tmp_path: Path) -> None:
    assert load_calibration(tmp_path) == Calibration()


def test_a_misspelt_entry_is_an_error(tmp_path: Path) -> None:
    (tmp_path / "calibration.json").write_text(json.dumps({"values": {"hole_treshold": 0.9}}))
    with pytest.raises(ValueError, match=r"calibration\.json: unknown entries hole_treshold"):
        load_calibration(tmp_path)


def test_the_shipped_calibration_loads_and_its_limits_are_chances() -> None:
    got = load_calibration(default_model_dir())
    for name in Calibration.__dataclass_fields__:
        value = getattr(got, name)
        if name.endswith("_threshold") or name in ("hole_peak", "bowl_readable", "flange_readable"):
            assert 0 < value < 1, name
        else:
            assert value > 0, name


def test_a_surer_find_needs_less_of_its_landmarks() -> None:
    limits = Calibration(
        locator_threshold=0.2, landmark_confidence=0.7, landmark_relief=1.0, landmark_floor=0.5
    )
    found = [limits.least_certainty(score) for score in (0.1, 0.2, 0.3, 0.4, 0.9)]
    assert found == pytest.approx([0.7, 0.7, 0.6, 0.5, 0.5])

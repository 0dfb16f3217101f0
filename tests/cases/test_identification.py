"""What was said and confirmed reaches the identification; what cannot be used is named."""

from pathlib import Path
from typing import Any

import pytest

from carbpair.cases.correction import Correction
from carbpair.cases.identification import Said, identify
from carbpair.cases.settings import ServiceSettings
from tests.http.recorded import inspection


@pytest.fixture
def service_settings(tmp_path: Path) -> ServiceSettings:
    return ServiceSettings(data_dir=tmp_path)


def _made(position: str, feature: str, value: Any) -> Correction:
    return Correction(1, "c", position, feature, value, None, None, "", "ann", 0.0, None)


def test_known_car_counts(service_settings: ServiceSettings) -> None:
    said = Said(car="Varnley Ostrene GT", engine="VT18 1798 cc", symptoms=("flooding",))
    found = identify(inspection(["a"]), said, [], service_settings)
    assert found["problems"] == []
    assert found["facts"]["car"] == "Varnley Ostrene GT"
    assert "car" in {reason["evidence"] for reason in found["why"]}


def test_unknown_car_is_named_and_the_rest_still_counts(
    service_settings: ServiceSettings,
) -> None:
    said = Said(car="Nowhere Mk 9", tag_text="XQ 1", symptoms=("flooding",))
    found = identify(inspection(["a"]), said, [], service_settings)
    assert [problem["kind"] for problem in found["problems"]] == ["unknown_name"]
    assert "Nowhere Mk 9" in found["problems"][0]["message"]
    assert found["problems"][0]["remedy"]
    assert found["facts"]["car"] is None
    assert found["facts"]["symptoms"] == ["flooding"]
    assert found["facts"]["tags"]


def test_hand_confirmation_separates_what_no_photo_can(
    service_settings: ServiceSettings,
) -> None:
    before = identify(inspection(["a"]), Said(), [], service_settings)
    assert before["answer"] is None
    confirmed = [_made("pair", "return_spring", "spindle")]
    after = identify(inspection(["a"]), Said(), confirmed, service_settings)
    best = after["candidates"][0]
    assert "spindle spring" in best["name"]
    assert best["probability"] > 0.9


def test_empty_text_of_a_tag_is_no_fact(service_settings: ServiceSettings) -> None:
    found = identify(inspection(["a"]), Said(tag_text="  --  "), [], service_settings)
    assert [problem["kind"] for problem in found["problems"]] == ["bad_input"]

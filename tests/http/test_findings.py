"""What the customer is told after the analysis: plain words, and how much closer to move."""

from typing import Any

import pytest

from carbpair.cases import task
from tests.cases.pictures import jpeg
from tests.http.desk import Desk, tus_send
from tests.http.recorded import feature, inspection


@pytest.fixture
def far_away(monkeypatch: pytest.MonkeyPatch) -> None:
    """The left flange is 12 pixels wide and was not read; everything else was."""

    def analyse(sources: list[Any], *_: Any) -> dict[str, Any]:
        found = inspection([source.name for source in sources])
        unread = feature(None) | {"reason": "too_small"}
        for photo in found["photos"]:
            left = photo["carbs"][0]
            left["widths_px"]["throat"] = 12.3
            left["features"]["flange_holes"] = unread
        found["pair"]["carbs"]["left"]["features"]["flange_holes"] = unread
        return found

    monkeypatch.setattr(task, "analyse", analyse)


@pytest.mark.parametrize(
    ("language", "told"),
    [
        ("en", "the opening in its air flange is 12 pixels wide in the best photo, 30 are needed"),
        ("de", "Die Öffnung in seinem Luftflansch ist im besten Foto 12 Pixel breit, 30 werden"),
    ],
)
def test_customer_and_desk_are_told_how_wide_and_how_wide_it_must_be(
    desk: Desk, far_away: None, language: str, told: str
) -> None:
    case_id = desk.new_case()
    link = desk.new_link(case_id)
    tus_send(desk.visitor, link, jpeg(1))
    desk.work()
    headers = {"accept-language": language}
    shown = desk.visitor.get(f"{link}/result", headers=headers).text
    assert shown.count(told) == 1
    assert told in desk.client.get(f"/desk/cases/{case_id}", headers=headers).text


def test_nothing_is_said_about_closeness_when_all_was_read(
    desk: Desk, recorded_analysis: None
) -> None:
    case_id = desk.new_case()
    link = desk.new_link(case_id)
    tus_send(desk.visitor, link, jpeg(1))
    desk.work()
    shown = desk.visitor.get(f"{link}/result").text
    assert "Both carburettors were found." in shown
    assert "pixels wide" not in shown


def test_hand_correction_takes_the_advice_away(desk: Desk, far_away: None) -> None:
    case_id = desk.new_case()
    link = desk.new_link(case_id)
    tus_send(desk.visitor, link, jpeg(1))
    desk.work()
    body = {"position": "left", "feature": "flange_holes", "value": 3}
    assert desk.client.post(f"/api/cases/{case_id}/corrections", json=body).status_code == 201
    assert "pixels wide" not in desk.visitor.get(f"{link}/result").text

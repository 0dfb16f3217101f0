"""Photos of two pairs in one case: the workshop and the sender are told, in their language."""

from typing import Any

import pytest

from carbpair.cases import task
from tests.http.desk import Desk
from tests.http.recorded import inspection

CLASH = {
    "position": "left",
    "feature": "flange_holes",
    "values": [3, 4],
    "files": ["photo 1", "photo 2"],
}


@pytest.fixture
def disputed(monkeypatch: pytest.MonkeyPatch) -> None:
    def analyse(sources: Any, settings: Any, on_photo: Any = None) -> dict[str, Any]:
        held = inspection([source.name for source in sources])
        held["pair"]["contradictions"] = [CLASH]
        return held

    monkeypatch.setattr(task, "analyse", analyse)


def test_the_desk_and_the_sender_are_told(desk: Desk, disputed: None) -> None:
    case_id = desk.new_case()
    desk.add_photo(case_id)
    desk.work()
    result = desk.client.get(f"/api/cases/{case_id}/result").json()
    assert result["identification"]["verdict"] == "contradiction"
    page = desk.client.get(f"/desk/cases/{case_id}").text
    assert "more than one pair of carburettors" in page
    assert "photo 2" in page
    link = desk.new_link(case_id)
    english = desk.visitor.get(f"{link}/result", headers={"accept-language": "en"}).text
    german = desk.visitor.get(f"{link}/result", headers={"accept-language": "de"}).text
    assert "more than one pair of carburettors" in english
    assert "mehr als ein Vergaserpaar" in german


def test_a_correction_by_hand_settles_it(desk: Desk, disputed: None) -> None:
    case_id = desk.new_case()
    desk.add_photo(case_id)
    desk.work()
    body = {"position": "left", "feature": "flange_holes", "value": 3, "note": "seen by hand"}
    assert desk.client.post(f"/api/cases/{case_id}/corrections", json=body).status_code == 201
    result = desk.client.get(f"/api/cases/{case_id}/result").json()
    assert result["identification"]["contradictions"] == []
    assert "more than one pair" not in desk.client.get(f"/desk/cases/{case_id}").text

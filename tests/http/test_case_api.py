"""The case resources."""

from collections.abc import Callable

import pytest
from openapi_spec_validator import validate

from carbpair.cases import task
from carbpair.cases.source_photo import SourcePhoto
from carbpair.cases.workspace import open_workspace
from carbpair.drawn_carb import DrawnCarb
from tests.cases.fixtures import MakeSettings
from tests.cases.pictures import jpeg
from tests.http.desk import Desk, routes
from tests.http.recorded import inspection


def test_pages_follow_each_other_without_gap(desk: Desk) -> None:
    made = [desk.new_case(f"case {index}") for index in range(5)]
    address = "/api/cases?limit=2"
    seen: list[str] = []
    while address:
        page = desk.client.get(address).json()
        seen += [case["id"] for case in page["cases"]]
        address = page["next"]
    assert seen == made[::-1]


def test_idempotency_key_makes_one_case_of_two_posts(desk: Desk) -> None:
    headers = {"idempotency-key": "abc-1"}
    first = desk.client.post("/api/cases", json={"title": "t"}, headers=headers)
    second = desk.client.post("/api/cases", json={"title": "t"}, headers=headers)
    assert first.json() == second.json()
    assert second.headers["idempotency-replayed"] == "true"
    assert len(desk.client.get("/api/cases").json()["cases"]) == 1
    other = desk.client.post("/api/cases", json={"title": "other"}, headers=headers)
    assert other.status_code == 409


def test_facts_change_and_empty(desk: Desk) -> None:
    case_id = desk.new_case(car="Varnley Tindre", year=1968)
    answer = desk.client.patch(
        f"/api/cases/{case_id}", json={"car": None, "symptoms": ["flooding"]}
    )
    assert answer.json()["car"] is None
    assert answer.json()["symptoms"] == ["flooding"]
    assert desk.client.patch(f"/api/cases/{case_id}", json={"title": None}).status_code == 422


def test_result_carries_correction_and_identification(
    desk: Desk, recorded_analysis: Callable[..., None]
) -> None:
    case_id = desk.new_case()
    assert desk.client.get(f"/api/cases/{case_id}/result").status_code == 404
    desk.add_photo(case_id)
    assert desk.work() == 1
    before = desk.client.get(f"/api/cases/{case_id}/result").json()
    best = before["identification"]["candidates"][0]["id"]
    body = {"position": "left", "feature": "flange_holes", "value": 2, "note": "seen by hand"}
    assert desk.client.post(f"/api/cases/{case_id}/corrections", json=body).status_code == 201
    desk.client.post(f"/api/cases/{case_id}/corrections", json=body | {"position": "right"})
    after = desk.client.get(f"/api/cases/{case_id}/result").json()
    held = after["pair"]["carbs"]["left"]["features"]["flange_holes"]
    assert (held["value"], held["reason"]) == (2, "corrected_by_hand")
    assert after["pair"]["features"]["flange_holes"]["value"] == 2
    assert after["identification"]["candidates"][0]["id"] != best
    for one in desk.client.get(f"/api/cases/{case_id}/corrections").json():
        desk.client.delete(f"/api/cases/{case_id}/corrections/{one['id']}")
    assert desk.client.get(f"/api/cases/{case_id}/result").json() == before


@pytest.mark.parametrize(
    "body",
    [
        {"position": "left", "feature": "flange_holes", "value": 5},
        {"position": "left", "feature": "flange_holes", "value": True},
        {"position": "left", "feature": "flange_holes", "value": "3"},
        {"position": "middle", "feature": "flange_holes", "value": 3},
        {"position": "left", "feature": "colour", "value": "red"},
        {"position": "left", "feature": "mark_bearing_deg", "value": 181},
        {"position": "left", "feature": "mark_bearing_deg", "value": "NaN"},
        {"position": "pair", "feature": "heat_shield", "value": "maybe"},
        {"position": "left", "feature": "flange_holes", "value": 3, "photo_id": "0" * 12},
        {"position": "left", "feature": "flange_holes", "value": 3, "drawing": {"kind": "hole"}},
        {"position": "left", "feature": "flange_holes", "value": 3, "extra": 1},
        {"position": "left", "feature": "flange_holes", "value": {"a": 1}},
        {},
    ],
)
def test_wrong_corrections_are_refused_and_not_kept(desk: Desk, body: dict[str, object]) -> None:
    case_id = desk.new_case()
    answer = desk.client.post(f"/api/cases/{case_id}/corrections", json=body)
    assert answer.status_code in (404, 422)
    assert desk.client.get(f"/api/cases/{case_id}/corrections").json() == []


@pytest.mark.parametrize(
    "drawing",
    [
        {"kind": "hole", "points": [[10, 10], [-1, 5]]},
        {"kind": "hole", "points": [[10, 1e9]]},
        {"kind": "hole", "points": []},
        {"kind": "hole", "points": "abc"},
        {"kind": "box", "box": [10, 10, 5, 20]},
        {"kind": "box", "box": [1, 2, 3]},
        {"kind": "spiral"},
    ],
)
def test_drawings_must_lie_in_the_photo(desk: Desk, drawing: dict[str, object]) -> None:
    case_id = desk.new_case()
    photo_id = desk.add_photo(case_id).json()["id"]
    body = {"position": "left", "feature": "flange_holes", "value": 3, "photo_id": photo_id}
    answer = desk.client.post(f"/api/cases/{case_id}/corrections", json=body | {"drawing": drawing})
    assert answer.status_code == 422
    good = {"kind": "hole", "points": [[10, 10], [320, 240]]}
    kept = desk.client.post(f"/api/cases/{case_id}/corrections", json=body | {"drawing": good})
    assert kept.json()["drawing"] == good


def test_checklist_is_ticked_with_a_note_and_history_says_who(desk: Desk) -> None:
    case_id = desk.new_case()
    body = {"outcome": "bad", "note": "0.3 mm play"}
    answer = desk.client.put(f"/api/cases/{case_id}/checklist/spindle_play", json=body)
    assert answer.json()["made_by"] == "ann"
    desk.client.put(f"/api/cases/{case_id}/checklist/spindle_play", json={"outcome": "good"})
    ticks = desk.client.get(f"/api/cases/{case_id}/checklist").json()
    assert [(tick["outcome"], tick["note"]) for tick in ticks] == [("good", "")]
    events = desk.client.get(f"/api/cases/{case_id}/history").json()
    ticked = [event for event in events if event["action"] == "checklist_ticked"]
    assert [event["detail"]["outcome"] for event in ticked] == ["bad", "good"]


def test_failed_analysis_is_told_and_the_photos_stay(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    from carbpair.cases import task

    def broken(*_: object) -> None:
        raise RuntimeError("weights are missing")

    monkeypatch.setattr(task, "analyse", broken)
    case_id = desk.new_case()
    desk.add_photo(case_id)
    path = desk.new_link(case_id)
    for _ in range(12):
        desk.work()
        newest = desk.client.get(f"/api/cases/{case_id}/analysis").json()
        if newest["state"] == "failed":
            break
        import time

        time.sleep(0.5)
    assert newest["state"] == "failed"
    assert "weights are missing" in newest["error"]
    assert desk.client.get(f"/api/cases/{case_id}").json()["state"] == "failed"
    assert "weights are missing" in desk.client.get(f"/desk/cases/{case_id}").text
    # The customer is told that it failed, and nothing of our insides.
    state = desk.visitor.get(f"{path}/state").json()
    assert state["analysis"] == "failed"
    assert "weights" not in str(state)
    assert len(desk.client.get(f"/api/cases/{case_id}/photos").json()) == 1


def test_deleted_case_is_gone_everywhere(
    desk: Desk, recorded_analysis: Callable[..., None]
) -> None:
    case_id = desk.new_case("Mill Lane job")
    path = desk.new_link(case_id)
    image = desk.add_photo(case_id).json()["image"]
    desk.work()
    assert desk.client.delete(f"/api/cases/{case_id}").status_code == 204
    for address in (f"/api/cases/{case_id}", image, f"/api/cases/{case_id}/history"):
        assert desk.client.get(address).status_code == 404
    assert desk.visitor.get(path).status_code == 404
    folder = desk.workspace.settings.data_dir
    assert [p for p in folder.rglob("*") if p.suffix == ".jpg"] == []


def test_queue_full_answers_503_with_retry_after(make_settings: MakeSettings) -> None:
    workspace = open_workspace(make_settings(queue_limit=1, rate_limits=False))
    desk = Desk.open(workspace)
    desk.add_photo(desk.new_case(), jpeg(1))
    answer = desk.add_photo(desk.new_case(), jpeg(2))
    assert answer.status_code == 503
    assert int(answer.headers["retry-after"]) >= 1
    assert answer.headers["content-type"] == "application/problem+json"
    workspace.close()


def test_openapi_describes_every_api_route(desk: Desk) -> None:
    described = desk.visitor.get("/openapi.json").json()
    assert {path for _, path in routes() if path.startswith("/api")} <= set(described["paths"])
    assert "/inspect" in described["paths"]
    # The specification's own schemas, as the validator of that name has them.
    validate(described)
    for name, methods in described["paths"].items():
        for method, operation in methods.items():
            assert operation.get("summary"), (name, method)


@pytest.mark.parametrize("number", ["0", "-1", "9223372036854775808", "1" + "0" * 40])
def test_row_numbers_beyond_the_database_are_refused(desk: Desk, number: str) -> None:
    # Found by Schemathesis: SQLite holds 64 bits.
    case_id = desk.new_case()
    answer = desk.client.delete(f"/api/cases/{case_id}/corrections/{number}")
    assert answer.status_code == 422
    form = desk.client.post(f"/desk/cases/{case_id}/corrections/{number}/withdraw")
    assert form.status_code == 422


def test_drawn_carburettor_is_looked_at_again_and_taken_back(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[str, list[DrawnCarb]]] = []

    def analyse(sources: list[SourcePhoto], *_: object) -> dict[str, object]:
        asked.extend((source.name, list(source.drawn)) for source in sources)
        return inspection([source.name for source in sources])

    monkeypatch.setattr(task, "analyse", analyse)
    case_id = desk.new_case()
    photo_id = desk.add_photo(case_id).json()["id"]
    desk.add_photo(case_id, jpeg(2))
    desk.work()
    asked.clear()
    body = {
        "position": "left", "feature": "carb", "value": True, "photo_id": photo_id,
        "drawing": {"kind": "box", "box": [10, 20, 110, 120]},
    }  # fmt: skip
    made = desk.client.post(f"/api/cases/{case_id}/corrections", json=body)
    assert made.status_code == 201, made.text
    assert desk.client.get(f"/api/cases/{case_id}").json()["state"] == "analysing"
    desk.work()
    assert asked == [
        ("photo-01.jpg", [DrawnCarb("left", (10.0, 20.0, 110.0, 120.0))]),
        ("photo-02.jpg", []),
    ]
    result = desk.client.get(f"/api/cases/{case_id}/result").json()
    assert "carb" not in result["pair"]["carbs"]["left"]["features"]
    desk.client.delete(f"/api/cases/{case_id}/corrections/{made.json()['id']}")
    desk.work()
    assert asked[2:] == [("photo-01.jpg", []), ("photo-02.jpg", [])]


@pytest.mark.parametrize(
    "change",
    [
        {"value": False},
        {"value": None},
        {"drawing": None},
        {"position": "pair"},
        {"drawing": {"kind": "hole", "points": [[20, 20]]}},
        {"photo_id": None},
    ],
)
def test_half_a_drawn_carburettor_is_refused(desk: Desk, change: dict[str, object]) -> None:
    case_id = desk.new_case()
    photo_id = desk.add_photo(case_id).json()["id"]
    body = {
        "position": "left", "feature": "carb", "value": True, "photo_id": photo_id,
        "drawing": {"kind": "box", "box": [10, 20, 110, 120]},
    }  # fmt: skip
    answer = desk.client.post(f"/api/cases/{case_id}/corrections", json=body | change)
    assert answer.status_code == 422
    assert desk.client.get(f"/api/cases/{case_id}/corrections").json() == []

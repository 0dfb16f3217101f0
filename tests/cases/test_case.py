import pytest

from carbpair.cases import audit, case
from carbpair.cases.error import InvalidError, NotFoundError
from carbpair.cases.workspace import Workspace


def test_created_case_is_read_back(workspace: Workspace) -> None:
    with workspace.database.write() as connection:
        made = case.create(connection, "ann", "Blue two-seater", car="Larkspur", year=1965,
                           symptoms=["flooding", "rich_smell"])  # fmt: skip
    with workspace.database.read() as connection:
        assert case.get(connection, made.id) == made
    assert made.state == "awaiting_photos"
    assert made.symptoms == ["rich_smell", "flooding"]


def test_numbers_count_up_and_pages_meet_without_gap(workspace: Workspace) -> None:
    with workspace.database.write() as connection:
        for index in range(7):
            case.create(connection, "ann", f"case {index}")
    seen: list[int] = []
    before = None
    with workspace.database.read() as connection:
        while rows := case.page(connection, before=before, limit=3):
            seen += [row.number for row in rows]
            before = rows[-1].number
    assert seen == [7, 6, 5, 4, 3, 2, 1]


@pytest.mark.parametrize(
    "facts",
    [
        {"title": "  "},
        {"title": "x" * 201},
        {"title": "t", "year": 1700},
        {"title": "t", "purpose": "sale"},
        {"title": "t", "symptoms": ["coughs"]},
        {"title": "t", "number": 9},
        {"title": "t", "remarks": "x" * 4001},
    ],
)
def test_bad_facts_are_refused_and_nothing_is_kept(
    workspace: Workspace, facts: dict[str, object]
) -> None:
    title = str(facts["title"])
    facts = {name: value for name, value in facts.items() if name != "title"}
    with pytest.raises(InvalidError), workspace.database.write() as connection:
        case.create(connection, "ann", title, **facts)
    with workspace.database.read() as connection:
        assert case.page(connection) == []


def test_unknown_and_malformed_ids_are_not_found(workspace: Workspace) -> None:
    with workspace.database.read() as connection:
        for case_id in ("0" * 12, "", "../../etc/x", "' OR 1=1 --", "x" * 5000, "\x00" * 12):
            with pytest.raises(NotFoundError):
                case.get(connection, case_id)


def test_history_names_fields_but_not_their_text(workspace: Workspace) -> None:
    with workspace.database.write() as connection:
        made = case.create(connection, "ann", "t")
        case.update(connection, "bob", made.id, {"remarks": "lives at 5 Mill Lane"})
        events = audit.history(connection, made.id)
    assert [(event.actor, event.action) for event in events] == [
        ("ann", "case_created"),
        ("bob", "case_changed"),
    ]
    assert events[1].detail["fields"] == ["remarks"]
    assert "Mill Lane" not in str(events)


def test_update_with_the_same_values_leaves_no_trace(workspace: Workspace) -> None:
    with workspace.database.write() as connection:
        made = case.create(connection, "ann", "t", car="Larkspur")
        assert case.update(connection, "ann", made.id, {"car": " Larkspur "}) == made
        assert len(audit.history(connection, made.id)) == 1


def test_counts_by_state(workspace: Workspace) -> None:
    with workspace.database.write() as connection:
        first = case.create(connection, "ann", "1")
        case.create(connection, "ann", "2")
        case.set_state(connection, first.id, "ready")
        counts = case.count_by_state(connection)
    assert counts == {
        "awaiting_photos": 1, "analysing": 0, "ready": 1, "failed": 0, "closed": 0,
    }  # fmt: skip

"""Who gets in, and who does not."""

import re
import time

import pytest
from fastapi.testclient import TestClient

from carbpair.cases import account, link
from carbpair.cases.workspace import open_workspace
from carbpair.http.setup_token import setup_token
from tests.cases.fixtures import MakeSettings
from tests.http.desk import PASSWORD, Desk, routes

PAGE = {"accept": "text/html"}


def test_nothing_of_the_desk_opens_without_login(desk: Desk) -> None:
    case_id = desk.new_case()
    for method, path in routes():
        filled = re.sub(r"\{[^}]+\}", "1", path.replace("{case_id}", case_id))
        answer = desk.visitor.request(method, filled, json={})
        assert answer.status_code == 401, (method, filled, answer.text)
        assert answer.headers["content-type"] == "application/problem+json"


def test_the_check_above_reaches_all_routes_of_the_desk() -> None:
    paths = [path for _, path in routes()]
    assert sum(path.startswith("/api/cases") for path in paths) >= 20
    assert sum(path.startswith("/desk") for path in paths) >= 16


def test_page_without_login_leads_to_the_login_form(desk: Desk) -> None:
    answer = desk.visitor.get("/desk", headers=PAGE, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/login?next=/desk")


def test_login_sets_a_cookie_that_scripts_and_other_sites_cannot_use(desk: Desk) -> None:
    answer = desk.visitor.post(
        "/login", data={"name": "ann", "password": PASSWORD}, follow_redirects=False
    )
    cookie = answer.headers["set-cookie"].lower()
    assert answer.status_code == 303
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    assert desk.visitor.get("/desk").status_code == 200


def test_production_cookie_is_bound_to_host_and_https(make_settings: MakeSettings) -> None:
    secret = "k9!vLw2#pQz8_rT4xYb6-mN0sHd3gJf5"  # noqa: S105 - for tests
    workspace = open_workspace(make_settings(environment="production", secret=secret))
    desk = Desk.open(workspace)
    answer = desk.visitor.post(
        "/login", data={"name": "ann", "password": PASSWORD}, follow_redirects=False
    )
    assert answer.headers["set-cookie"].startswith("__Host-carbpair=")
    assert "; Secure" in answer.headers["set-cookie"]
    assert "max-age" in answer.headers["strict-transport-security"]
    workspace.close()


@pytest.mark.parametrize(("name", "password"), [("ann", "wrong password"), ("bob", PASSWORD)])
def test_wrong_login_is_refused_without_saying_which(desk: Desk, name: str, password: str) -> None:
    answer = desk.visitor.post("/login", data={"name": name, "password": password})
    assert answer.status_code == 401
    assert "Name or password is wrong." in answer.text
    assert not desk.visitor.cookies


def test_passwords_are_hashed_with_argon2id(desk: Desk) -> None:
    # RFC 9106 names Argon2id as the variant for password hashing.
    import sqlalchemy as sa

    from carbpair.cases import schema

    with desk.workspace.database.read() as connection:
        stored = connection.scalar(sa.select(schema.user.c.password_hash))
    assert str(stored).startswith("$argon2id$")
    assert PASSWORD not in str(stored)


def test_tokens_are_stored_only_as_digests(desk: Desk) -> None:
    import sqlalchemy as sa

    from carbpair.cases import schema

    path = desk.new_link(desk.new_case())
    token = path.rpartition("/")[2]
    with desk.workspace.database.read() as connection:
        for table in schema.metadata.sorted_tables:
            for row in connection.execute(sa.select(table)):
                assert token not in str(row), table.name
                assert desk.client.cookies["carbpair"] not in str(row), table.name


@pytest.mark.parametrize("token", ["", "0" * 64, "x"])
def test_changes_need_the_csrf_token(desk: Desk, token: str) -> None:
    answer = desk.client.post("/api/cases", json={"title": "t"}, headers={"x-csrf-token": token})
    assert answer.status_code == 403
    assert desk.client.get("/api/cases").json()["cases"] == []


def test_form_without_csrf_field_is_refused(desk: Desk) -> None:
    del desk.client.headers["x-csrf-token"]
    assert desk.client.post("/desk/cases", data={"title": "t"}).status_code == 403


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "https://evil.example"},
        {"origin": "null"},
    ],
)
def test_changes_from_another_site_are_refused(desk: Desk, headers: dict[str, str]) -> None:
    assert desk.client.post("/api/cases", json={"title": "t"}, headers=headers).status_code == 403
    link_path = desk.new_link(desk.new_case())
    answer = desk.visitor.post(f"{link_path}/about", data={"car": "x"}, headers=headers)
    assert answer.status_code == 403
    assert desk.visitor.post("/inspect", headers=headers).status_code == 403


def test_bearer_token_works_without_csrf_and_ends_with_its_owner(desk: Desk) -> None:
    with desk.workspace.database.write() as connection:
        user = account.check_password(connection, "ann", PASSWORD)
        assert user is not None
        token = account.open_session(connection, user, 60, kind="bearer")
    headers = {"authorization": f"Bearer {token}"}
    made = desk.visitor.post("/api/cases", json={"title": "t"}, headers=headers)
    assert made.status_code == 201
    with desk.workspace.database.write() as connection:
        account.disable(connection, "test", "ann")
    assert desk.visitor.get("/api/cases", headers=headers).status_code == 401
    assert desk.client.get("/api/cases").status_code == 401


@pytest.mark.parametrize("value", ["Bearer", "Bearer x", "Basic YTpi", "Bearer " + "y" * 4000])
def test_forged_authorization_is_refused(desk: Desk, value: str) -> None:
    answer = desk.visitor.get("/api/cases", headers={"authorization": value})
    assert answer.status_code == 401


def test_logout_ends_the_session(desk: Desk) -> None:
    cookie = desk.client.cookies["carbpair"]
    desk.client.post("/logout")
    desk.visitor.cookies.set("carbpair", cookie)
    assert desk.visitor.get("/api/cases").status_code == 401


def test_expired_session_is_refused(desk: Desk) -> None:
    with desk.workspace.database.write() as connection:
        user = account.check_password(connection, "ann", PASSWORD)
        assert user is not None
        token = account.open_session(connection, user, 0.01)
    time.sleep(0.05)
    desk.visitor.cookies.set("carbpair", token)
    assert desk.visitor.get("/api/cases").status_code == 401


def test_first_login_is_made_once_with_the_terminals_link(make_settings: MakeSettings) -> None:
    from carbpair.http.app import create_app

    workspace = open_workspace(make_settings(rate_limits=False))
    client = TestClient(create_app(workspace))
    path = f"/setup/{setup_token(workspace.settings.resolved_secret())}"
    assert client.get("/setup/" + "0" * 40).status_code == 404
    weak = client.post(path, data={"name": "ann", "password": "short"})
    assert weak.status_code == 422
    assert "12 characters" in weak.text
    made = client.post(path, data={"name": "ann", "password": PASSWORD}, follow_redirects=False)
    assert made.status_code == 303
    assert client.get(path).status_code == 404
    again = client.post(path, data={"name": "eve", "password": PASSWORD})
    assert again.status_code == 404
    workspace.close()


@pytest.mark.parametrize("target", ["//evil.example", "https://evil.example", "/\\evil.example"])
def test_login_never_leads_to_another_site(desk: Desk, target: str) -> None:
    answer = desk.visitor.post(
        "/login",
        data={"name": "ann", "password": PASSWORD, "next": target},
        follow_redirects=False,
    )
    assert answer.headers["location"] == "/desk"


def test_login_tries_are_limited_and_the_wait_is_told(make_settings: MakeSettings) -> None:
    workspace = open_workspace(make_settings(login_rate="3/minute"))
    desk = Desk.open(workspace)
    answers = [
        desk.visitor.post("/login", data={"name": "ann", "password": "wrong wrong wrong"})
        for _ in range(4)
    ]
    assert [answer.status_code for answer in answers] == [401, 401, 401, 429]
    assert 1 <= int(answers[-1].headers["retry-after"]) <= 60
    workspace.close()


def test_link_opens_its_own_case_only(desk: Desk) -> None:
    mine, theirs = desk.new_case(), desk.new_case()
    added = desk.add_photo(theirs).json()
    path = desk.new_link(mine)
    assert desk.visitor.get(path).status_code == 200
    assert desk.visitor.get(f"{path}/photos/{added['id']}.jpg").status_code == 404
    assert desk.visitor.delete(f"{path}/photos/{added['id']}").status_code == 404
    assert desk.visitor.get(f"/api/cases/{mine}").status_code == 401
    assert desk.client.get(added["image"]).status_code == 200


@pytest.mark.parametrize("token", ["x", "0" * 43, "%00", "a" * 3000, "..%2f..%2fetc"])
def test_forged_link_is_not_found(desk: Desk, token: str) -> None:
    for suffix in ("", "/state", "/result", "/events"):
        assert desk.visitor.get(f"/l/{token}{suffix}").status_code == 404


def test_expired_and_revoked_links_are_gone(desk: Desk) -> None:
    case_id = desk.new_case()
    with desk.workspace.database.write() as connection:
        token, _ = link.create(connection, "ann", case_id, 0.01)
    time.sleep(0.05)
    assert desk.visitor.get(f"/l/{token}").status_code == 410
    path = desk.new_link(case_id)
    made = desk.client.get(f"/api/cases/{case_id}/links").json()
    for one in made:
        desk.client.delete(f"/api/cases/{case_id}/links/{one['id']}")
    assert desk.visitor.get(path).status_code == 410
    assert desk.visitor.post(f"{path}/uploads").status_code == 410


def test_links_are_limited_by_address_before_any_is_looked_up(
    make_settings: MakeSettings,
) -> None:
    workspace = open_workspace(make_settings(address_rate="5/minute"))
    desk = Desk.open(workspace)
    codes = [desk.visitor.get(f"/l/{index:043d}").status_code for index in range(7)]
    assert codes == [404] * 5 + [429] * 2
    workspace.close()


@pytest.mark.parametrize("path", ["/api/cases", "/api/cases/x/photos", "/api/cases/x/report.pdf"])
def test_api_is_limited_by_address_before_tokens_are_looked_up(
    make_settings: MakeSettings, path: str
) -> None:
    workspace = open_workspace(make_settings(address_rate="3/minute"))
    desk = Desk.open(workspace)
    answers = [
        desk.visitor.get(path, headers={"authorization": f"Bearer guess-{index}"})
        for index in range(5)
    ]
    assert [answer.status_code for answer in answers] == [401] * 3 + [429] * 2
    assert answers[-1].headers["content-type"] == "application/problem+json"
    workspace.close()

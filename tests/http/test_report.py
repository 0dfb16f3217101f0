"""The report: complete, readable by another program, and plain before a purchase."""

import io
from collections.abc import Callable

import pytest

from tests.cases.pictures import jpeg
from tests.http.desk import Desk

pypdf = pytest.importorskip("pypdf")


def _pdf_text(desk: Desk, case_id: str, language: str = "en") -> str:
    headers = {"accept-language": language}
    answer = desk.client.get(f"/api/cases/{case_id}/report.pdf", headers=headers)
    assert answer.headers["content-language"] == language
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/pdf"
    reader = pypdf.PdfReader(io.BytesIO(answer.content))
    return " ".join(page.extract_text() for page in reader.pages)


def test_report_holds_everything_that_was_found(
    desk: Desk, recorded_analysis: Callable[..., None]
) -> None:
    case_id = desk.new_case("Blue <two>-seater & co", car="Varnley Ostrene GT", tag_text="AB 12")
    desk.add_photo(case_id, jpeg(1))
    desk.add_photo(case_id, jpeg(2), view="top", phase="after")
    desk.work()
    note = {"outcome": "bad", "note": "0.3 mm at the left one"}
    desk.client.put(f"/api/cases/{case_id}/checklist/spindle_play", json=note)
    text = " ".join(_pdf_text(desk, case_id).split())
    for words in (
        "Blue <two>-seater & co", "Varnley Ostrene GT", "AB 12", "Petrol vapour", "piston dashpot",
        "Bolt holes in the air flange", "97 %", "Candidates", "Deviations", "not good",
        "0.3 mm at the left one", "After reassembly", "carbpair: 0.1.0", "locator", "catalogue",
        "invented", "confirm the pattern by hand",
    ):  # fmt: skip
        assert words in text, words


def test_report_is_in_the_readers_language_and_says_what_is_not(
    desk: Desk, recorded_analysis: Callable[..., None]
) -> None:
    case_id = desk.new_case("Blauer Zweisitzer", tag_text="AB 12")
    desk.add_photo(case_id, jpeg(1))
    desk.add_photo(case_id, jpeg(2), view="top", phase="after")
    desk.work()
    shield = {"position": "pair", "feature": "heat_shield", "value": False}
    desk.client.post(f"/api/cases/{case_id}/corrections", json=shield)
    text = " ".join(_pdf_text(desk, case_id, "de").split())
    for words in (
        "Bericht: Blauer Zweisitzer", "Text auf dem Schild: AB 12", "Benzindampf brennt",
        "Schraubenlöcher im Luftflansch", "Kolbenglocke", "gesehen, 97 %", "Kandidaten",
        "Innen liegende Schwimmerkammern ohne Hitzeschild", "Erwartet: Hitzeschild montiert.",
        "Lassen Sie den Motor nicht laufen.", "Beide Schildnummern ablesen", "Passmarke",
        "Nach dem Zusammenbau", "Von oben, nach dem Zusammenbau", "Seite 1",
        # Pattern names are the catalogue's own, so they stay as they are, and that is said.
        "Was noch keine Übersetzung hat, steht hier auf Englisch.",
    ):  # fmt: skip
        assert words in text, words
    for english in ("Petrol vapour", "Before you lean", "Do not run the engine", "Candidates"):
        assert english not in text
    page = desk.client.get(f"/desk/cases/{case_id}/report", headers={"accept-language": "de"}).text
    assert "Lassen Sie den Motor nicht laufen." in page
    assert "Was noch keine Übersetzung hat" in page
    assert '<span lang="en">' in page


def test_report_before_the_first_analysis_says_so(desk: Desk) -> None:
    case_id = desk.new_case()
    assert "No analysis has been done yet." in _pdf_text(desk, case_id)
    assert desk.client.get(f"/desk/cases/{case_id}/report").status_code == 200


def test_advice_before_buying_is_plain(desk: Desk, recorded_analysis: Callable[..., None]) -> None:
    case_id = desk.new_case(purpose="purchase")
    desk.add_photo(case_id)
    desk.work()
    text = " ".join(_pdf_text(desk, case_id).split())
    assert "It is no inspection of the car." in text
    assert "Have a qualified person check" in text


def test_tall_and_wide_photos_fit_the_page(
    desk: Desk, recorded_analysis: Callable[..., None]
) -> None:
    case_id = desk.new_case()
    for size in ((40, 900), (900, 40), (17, 17)):
        assert desk.add_photo(case_id, jpeg(1, size)).status_code == 201
    desk.work()
    assert _pdf_text(desk, case_id)

from carbpair.identify import Calibration, demo_catalogue, identify_inspection
from carbpair.identify.text import identification_brief, identification_text, verification_text
from carbpair.identify.verification import verify
from tests.identify.example import confusion, features, inspection, pair

DEMO = demo_catalogue()
TURNED = inspection(features(3, "inboard", "piston", 2.0), features(3, "inboard", "piston", 90.0))


def found(**facts: object):
    return identify_inspection(
        TURNED, DEMO, facts, confusion=confusion(), calibration=Calibration()
    )


def test_the_answer_stands_first_and_cautions_before_the_checks() -> None:
    text = identification_text(found(car="Varnley Ostrene GT"))
    lines = text.splitlines()
    assert "demonstration" in lines[0]
    assert lines[2].startswith("ANSWER: none")
    assert text.index("Petrol vapour") < text.index("[ ] 1.")
    for words in ("No photo can tell", "Alignment mark", "Do:", "Confirm tag first", "caution:"):
        assert words in text


def test_brief_leaves_out_the_steps_of_what_no_photo_shows() -> None:
    full, brief = (identification_text(found(), flag) for flag in (True, False))
    assert "Press dry paper" in full
    assert "Press dry paper" not in brief
    assert "Petrol vapour" in brief


def test_a_few_lines_under_an_inspection() -> None:
    lines = identification_brief(found()).splitlines()
    assert len(lines) < 15
    assert "demonstration" in lines[0]
    assert any("MAJOR" in line for line in lines)


def test_verification_says_that_unseen_has_not_passed() -> None:
    held = verify(pair(None, "inboard", "piston", 2.0), DEMO.pattern("op-3in-ext"))
    text = verification_text(held)
    assert "CANNOT SEE flange holes (left)" in text
    assert "has not passed" in text
    assert "90 % interval" in text

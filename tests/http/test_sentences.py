"""The identification's sentences in German: literal pairs, and a seeded sample of cases."""

import random
from collections.abc import Iterator
from typing import Any

import pytest

from carbpair.cases.case_result import corrected
from carbpair.cases.correction import CARB_VALUES, PAIR_VALUES, Correction
from carbpair.cases.identification import Said, catalogue_in_force, identify
from carbpair.cases.settings import ServiceSettings
from carbpair.http.language import load_languages
from carbpair.http.sentences import translated
from carbpair.http.web_files import web_folder
from carbpair.identify import symptoms
from tests.http.recorded import inspection

GERMAN = load_languages(web_folder() / "locale")["de"].gettext
# What is worked out in words, by the identification's schema; names and ids are not.
SPOKEN = {
    "summary", "text", "evidence", "why", "expected", "seen", "not_checked", "explanation",
    "action", "title", "how", "message", "remedy", "notes", "caution", "cautions", "confirm",
    "measure_first", "tools",
}  # fmt: skip
TABLES = (("left", CARB_VALUES), ("right", CARB_VALUES), ("pair", PAIR_VALUES))
SAMPLE = 60


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("2", "2"),
        ("2 or 4", "2 oder 4"),
        ("op-2in", "op-2in"),
        ("flange holes left 3, right 2 (unsure)", "Flanschlöcher links 3, rechts 2 (unsicher)"),
        (
            "confirmed by hand: right.bowl side outboard",
            "von Hand bestätigt: rechts, Schwimmerkammer außen",
        ),
        ("88° off: +2° (90 % interval -1° to +5°)", "88° daneben: +2° (90-%-Bereich -1° bis +5°)"),
        (
            "No photo can tell a and b apart. What does: tag, cap colour.",
            "Kein Foto kann a und b unterscheiden. Was sie unterscheidet: Schild, cap colour.",
        ),
        (
            "The left carburettor's flange holes reads 3 in a.jpg and 4 in b.jpg: these photos "
            "seem to show more than one pair. Inspect one pair at a time, or confirm the feature "
            "by hand.",
            "Vergaser links, Flanschlöcher: 3 in a.jpg und 4 in b.jpg. Diese Fotos zeigen offenbar "
            "mehr als ein Paar. Immer nur ein Paar untersuchen, oder das Merkmal von Hand "
            "bestätigen.",
        ),
        (
            "Left and right differ in chamber, flange holes: another photo shows whether they "
            "really do.",
            "Links und rechts unterscheiden sich (Kammer, Flanschlöcher): ein weiteres Foto "
            "zeigt, ob das stimmt.",
        ),
        ("A sentence that nobody has translated.", None),
        ("left A sentence that nobody has translated.", None),
        ("", ""),
    ],
)
def test_composed_sentences(english: str, german: str | None) -> None:
    assert translated(english, GERMAN) == german


def test_text_with_markup_and_percent_signs_comes_through_unchanged() -> None:
    tag = "tag '%(text)s<b>' is not in the catalogue"
    assert translated(tag, GERMAN) == "Schild '%(text)s<b>' steht nicht im Katalog"


def _spoken(part: Any, key: str = "") -> Iterator[str]:
    if isinstance(part, dict):
        for name, value in part.items():
            yield from _spoken(value, name)
    elif isinstance(part, list | tuple):
        for value in part:
            yield from _spoken(value, key)
    elif isinstance(part, str) and key in SPOKEN:
        yield part


def _cases(rng: random.Random) -> Iterator[dict[str, Any]]:
    settings = ServiceSettings()
    fitments = catalogue_in_force(settings).fitments
    for number in range(SAMPLE):
        made = [
            Correction(number, "c", side, feature, rng.choice(values), None, None, "", "a", 0, None)
            for side, table in (
                ("left", CARB_VALUES),
                ("right", CARB_VALUES),
                ("pair", PAIR_VALUES),
            )
            for feature, values in table.items()
            if rng.random() < 0.5
        ]
        fitment = rng.choice([None, *fitments])
        said = Said(
            car=fitment and fitment.car,
            engine=fitment and fitment.engine,
            year=rng.choice([None, 1965]),
            tag_text=rng.choice([None, "AB12"]),
            symptoms=tuple(rng.sample(sorted(symptoms()), 1)),
        )
        found = corrected(inspection(["a.jpg"]), made)
        yield identify(found, said, made, settings)


def test_nearly_all_that_is_said_of_a_sample_of_cases_is_translated() -> None:
    said = {text for case in _cases(random.Random(7)) for text in _spoken(case)}
    english = {text for text in said if translated(text, GERMAN) is None}
    assert len(said) > 300
    # The catalogue's own questions and new sentences may lack a translation; no more than that.
    assert len(english) / len(said) < 0.05, sorted(english)[:20]

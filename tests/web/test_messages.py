"""Every text of the pages is in every catalogue, and says the same placeholders."""

import re
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from carbpair.http.web_files import web_folder
from tests.web.messages import (
    report_messages,
    sentence_messages,
    template_messages,
    word_messages,
)

CATALOGUES = sorted((web_folder() / "locale").glob("*/messages.po"))


def test_there_is_another_language() -> None:
    assert CATALOGUES


@pytest.mark.parametrize("path", CATALOGUES, ids=lambda path: path.parent.name)
def test_catalogue_is_whole(path: Path) -> None:
    with path.open("rb") as file:
        catalogue = read_po(file)
    have = {str(one.id): str(one.string) for one in catalogue if one.id and one.string}
    wanted = template_messages() | word_messages() | report_messages()
    assert len(wanted) > 200
    assert wanted - set(have) == set()
    assert set(have) - wanted == set(), "texts that no page has any more"
    for message, translation in have.items():
        assert re.findall(r"%\(\w+\)\w", message) == re.findall(r"%\(\w+\)\w", translation)


@pytest.mark.parametrize("path", CATALOGUES, ids=lambda path: path.parent.name)
def test_identifications_texts_are_translated(path: Path) -> None:
    with path.with_name("sentences.po").open("rb") as file:
        have = {str(one.id): str(one.string) for one in read_po(file) if one.id and one.string}
    wanted = sentence_messages()
    assert len(wanted) > 250
    assert wanted - set(have) == set()
    for message, translation in have.items():
        assert sorted(re.findall(r"%\(\w+\)s", message)) == sorted(
            re.findall(r"%\(\w+\)s", translation)
        )

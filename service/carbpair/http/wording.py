"""Everything that is worded in one language: texts, words for codes, sentences, numbers."""

from functools import lru_cache

from babel.support import NullTranslations
from markupsafe import Markup, escape

from carbpair.http import words
from carbpair.http.language import SOURCE_LANGUAGE, moment, percent
from carbpair.http.sentences import translated


class Wording:
    """One language; `unknown` collects the sentences that were asked for and have no translation.

    Pages share one per language; a report takes its own (``fresh``) to know what stayed English.
    """

    def __init__(self, language: str, translations: NullTranslations) -> None:
        """Take texts from `translations`."""
        self.language = language
        self.translations = translations
        self.unknown: set[str] = set()
        self._translated = lru_cache(maxsize=4096)(self._look_up)

    def fresh(self) -> "Wording":
        """Return the same language with nothing unknown yet."""
        return Wording(self.language, self.translations)

    def text(self, message: str) -> str:
        """Return one of the pages' own texts."""
        return self.translations.gettext(message)

    def word(self, table: str, key: str) -> str:
        """Return the word for a code of one of ``words``' tables."""
        return self.text(words.word(table, key))

    def label(self, feature: str, value: object) -> str:
        """Return the word for a feature's value."""
        return self.text(words.value_label(feature, value))

    def moment(self, seconds: float) -> str:
        """Return a date and time."""
        return moment(seconds, self.language)

    def percent(self, probability: float | None) -> str:
        """Return a probability."""
        return percent(probability, self.language)

    def sentence(self, text: object) -> str:
        """Return a sentence of the identification; in English where it has no translation."""
        found = self._translated(str(text))
        if found is None:
            self.unknown.add(str(text))
            return str(text)
        return found

    def sentence_markup(self, text: object) -> Markup:
        """Return the same for a page, which must say where its language changes (WCAG 3.1.2)."""
        found = self._translated(str(text))
        if found is None:
            return Markup('<span lang="{}">{}</span>').format(SOURCE_LANGUAGE, text)
        return escape(found)

    def _look_up(self, text: str) -> str | None:
        if self.language == SOURCE_LANGUAGE:
            return text
        return translated(text, self.translations.gettext)

"""The pages' language: catalogues in ``web/locale``, read with Babel at the start."""

from collections.abc import Iterable
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path

from babel import Locale
from babel.core import negotiate_locale
from babel.dates import format_datetime
from babel.messages.pofile import read_po
from babel.numbers import format_percent
from babel.support import NullTranslations
from fastapi import Request

SOURCE_LANGUAGE = "en"
COOKIE = "language"
DOMAIN = "messages"
SENTENCES = "sentences"


class CatalogueTranslations(NullTranslations):
    """Translations straight from a .po file, so that no compiled file has to be kept."""

    def __init__(self, *paths: Path) -> None:
        """Read `paths`; fuzzy and empty entries are left in the source language."""
        super().__init__()
        self._messages: dict[str, str] = {}
        for path in paths:
            with path.open("rb") as file:
                for message in read_po(file):
                    named = isinstance(message.id, str) and bool(message.id)
                    if named and message.string and not message.fuzzy:
                        self._messages[str(message.id)] = str(message.string)

    def gettext(self, message: str) -> str:
        """Return the translation, or the message itself."""
        return self._messages.get(message, message)

    def ngettext(self, singular: str, plural: str, number: int) -> str:
        """Return by number; both forms are messages of their own."""
        return self.gettext(singular if number == 1 else plural)


def load_languages(locale_folder: Path) -> dict[str, NullTranslations]:
    """Return translations by language code, the source language first."""
    found: dict[str, NullTranslations] = {SOURCE_LANGUAGE: NullTranslations()}
    for path in sorted(locale_folder.glob(f"*/{DOMAIN}.po")):
        sentences = path.with_name(f"{SENTENCES}.po")
        # The pages' own texts win over the identification's where both have one.
        both = [sentences, path] if sentences.is_file() else [path]
        found[path.parent.name] = CatalogueTranslations(*both)
    return found


def language_of(request: Request, languages: Iterable[str]) -> str:
    """Choose by cookie, then by what the browser prefers."""
    known = list(languages)
    chosen = request.cookies.get(COOKIE)
    if chosen in known:
        return str(chosen)
    header = request.headers.get("accept-language", "")[:200]
    wanted = [part.partition(";")[0].strip().replace("-", "_") for part in header.split(",")]
    return negotiate_locale([one for one in wanted if one], known) or SOURCE_LANGUAGE


def moment(seconds: float, language: str) -> str:
    """Return Unix seconds as a date and time (UTC) in the language's form."""
    when = datetime.fromtimestamp(seconds, UTC)
    return format_datetime(when, "d MMM y, HH:mm", locale=Locale.parse(language)) + " UTC"


def percent(probability: float | None, language: str) -> str:
    """Return a probability as whole percent; never 100 %, which photos cannot support."""
    if probability is None:
        return "–"
    if probability > 0.99:
        return "> " + _whole_percent(99, language)
    if probability < 0.01:
        return "< " + _whole_percent(1, language)
    return _whole_percent(round(100 * probability), language)


@lru_cache(maxsize=1024)
def _whole_percent(value: int, language: str) -> str:
    return format_percent(value / 100, "0 %", locale=Locale.parse(language))

"""Renders the pages' templates in the reader's language."""

import json
from collections.abc import Callable
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse, Response
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from carbpair.cases.account import Session
from carbpair.http import words
from carbpair.http.access import csrf_token
from carbpair.http.language import language_of, load_languages
from carbpair.http.web_files import web_folder
from carbpair.http.wording import Wording


class Pages:
    """One Jinja environment per language; everything is escaped, undefined names are errors."""

    def __init__(self) -> None:
        """Read templates and catalogues from the web folder."""
        folder = web_folder()
        self._environments: dict[str, Environment] = {}
        self._wordings: dict[str, Wording] = {}
        for language, translations in load_languages(folder / "locale").items():
            environment = Environment(
                loader=FileSystemLoader(folder / "templates"),
                autoescape=True,
                undefined=StrictUndefined,
                extensions=["jinja2.ext.i18n"],
                trim_blocks=True,
                lstrip_blocks=True,
            )
            environment.install_gettext_callables(  # type: ignore[attr-defined]
                translations.gettext, translations.ngettext, newstyle=True
            )
            wording = Wording(language, translations)
            environment.globals |= {
                "_": _texts(translations.gettext),
                "language": language,
                "languages": [],
                "words": words,
                "label": wording.label,
                "word": wording.word,
            }
            environment.filters |= {
                "moment": wording.moment,
                "percent": wording.percent,
                "said": wording.sentence_markup,
                "script_json": _script_json,
            }
            self._environments[language] = environment
            self._wordings[language] = wording
        for environment in self._environments.values():
            environment.globals["languages"] = list(self._environments)

    def warm_up(self) -> None:
        """Compile all templates now."""
        for environment in self._environments.values():
            for name in environment.list_templates(extensions=["html"]):
                environment.get_template(name)

    @property
    def languages(self) -> list[str]:
        """Return the language codes that there are pages in."""
        return list(self._environments)

    def language(self, request: Request) -> str:
        """Return the language in which to answer."""
        return language_of(request, self._environments)

    def wording(self, request: Request) -> Wording:
        """Return a fresh wording in the language in which to answer."""
        return self._wordings[self.language(request)].fresh()

    def text(self, request: Request, template: str, **values: Any) -> str:
        """Render to text; ``csrf`` is at hand where there is a login."""
        environment = self._environments[self.language(request)]
        session: Session | None = getattr(request.state, "session", None)
        token = csrf_token(request.app.state.secret, session) if session is not None else ""
        return environment.get_template(template).render(
            values
            | {
                "csrf": token,
                "user": None if session is None else session.user,
                "path": request.url.path,
            }
        )

    def page(
        self, request: Request, template: str, status: int = 200, **values: Any
    ) -> HTMLResponse:
        """Render to an answer."""
        return HTMLResponse(self.text(request, template, **values), status)

    def error(self, request: Request, status: int, detail: str, remedy: str) -> Response:
        """Render the error page."""
        return self.page(request, "error.html", status, code=status, detail=detail, remedy=remedy)


def _texts(gettext: Callable[[str], str]) -> Callable[..., Markup]:
    """Return the templates' ``_``: as Jinja's own, but each text is marked safe only once.

    A case's page asks for two hundred texts; that was a third of its time.
    """
    known: dict[str, Markup] = {}

    def text(message: str, **values: object) -> Markup:
        found = known.get(message)
        if found is None:
            # Only texts of our own templates and tables come here, so their number is bounded.
            found = known[message] = Markup(gettext(message))  # noqa: S704
        return found % values if values else found

    return text


def _script_json(value: Any) -> Markup:
    """Return JSON that cannot end the script element that holds it."""
    text = json.dumps(value).replace("<", "\\u003c").replace(">", "\\u003e")
    return Markup(text.replace("&", "\\u0026"))  # noqa: S704 - escaped just above


def pages_of(request: Request) -> Pages:
    """Return the application's pages."""
    pages: Pages = request.app.state.pages
    return pages

"""All messages of pages and report, as Babel extracts them from templates, code and words."""

import tomllib
from importlib.resources import files
from typing import Any

from babel.messages.extract import extract_from_dir, extract_from_file

from carbpair.http import report_pdf, sentences, words
from carbpair.http.web_files import web_folder


def template_messages() -> set[str]:
    folder = web_folder() / "templates"
    found = extract_from_dir(folder, method_map=[("**.html", "jinja2")], keywords={"_": None})
    return {message for _, _, message, _, _ in found if isinstance(message, str)}


def report_messages() -> set[str]:
    found = extract_from_file(
        "python", str(report_pdf.__file__), keywords={"_": None, "text": None}
    )
    return {message for _, message, _, _ in found if isinstance(message, str)}


def sentence_messages() -> set[str]:
    """Templates, and every text of the identification's data files that is shown to people."""
    found = {*sentences.TEMPLATES, *sentences.NAME_JOINERS}
    shown = {"title", "how", "good", "caution", "lines", "tools", "why", "explanation", "action"}

    def gather(part: Any, key: str = "") -> None:
        if isinstance(part, dict):
            for name, value in part.items():
                gather(value, name)
        elif isinstance(part, list):
            for value in part:
                gather(value, key)
        elif isinstance(part, str) and key in shown and part and "{" not in part:
            found.add(part)

    data = files("carbpair.identify") / "data"
    for name in ("checks", "deviations", "symptoms", "views"):
        gather(tomllib.loads((data / f"{name}.toml").read_text(encoding="utf-8")))
    return found


def word_messages() -> set[str]:
    found: set[str] = set()
    for name in vars(words):
        table = getattr(words, name)
        if not name.isupper():
            continue
        for value in table.values():
            found |= set(value.values()) if hasattr(value, "values") else {value}
    return found

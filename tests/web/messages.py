"""All messages of the pages, as Babel extracts them from templates and marked words."""

from babel.messages.extract import extract_from_dir

from carbpair.http import words
from carbpair.http.web_files import web_folder


def template_messages() -> set[str]:
    folder = web_folder() / "templates"
    found = extract_from_dir(folder, method_map=[("**.html", "jinja2")], keywords={"_": None})
    return {message for _, _, message, _, _ in found if isinstance(message, str)}


def word_messages() -> set[str]:
    found: set[str] = set()
    for name in vars(words):
        table = getattr(words, name)
        if not name.isupper():
            continue
        for value in table.values():
            found |= set(value.values()) if hasattr(value, "values") else {value}
    return found

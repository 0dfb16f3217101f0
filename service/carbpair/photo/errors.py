"""The one error that a picture can cause."""

from typing import Literal

ErrorKind = Literal[
    "not_found",
    "empty",
    "too_large",
    "too_many_pixels",
    "too_few_pixels",
    "not_an_image",
    "unsupported_format",
    "animated",
    "truncated",
    "unreadable",
]
"""What can be wrong with a file, from missing to damaged."""


class PhotoError(Exception):
    """A file that cannot be used as a photograph.

    `kind` is for programs, `message` says what is wrong, `remedy` what the sender can do;
    `file` names the file. `str()` gives all three in one line.
    """

    def __init__(self, kind: ErrorKind, file: str, message: str, remedy: str) -> None:
        super().__init__(f"{file}: {message} {remedy}")
        self.kind: ErrorKind = kind
        self.file = file
        self.message = message
        self.remedy = remedy

    def as_json(self) -> dict[str, str]:
        """`kind`, `message` and `remedy`, as an inspection's JSON shows them."""
        return {"kind": self.kind, "message": self.message, "remedy": self.remedy}

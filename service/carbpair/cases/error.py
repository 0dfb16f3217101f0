"""Errors that a person can act on."""


class CaseError(Exception):
    """Base of all; `message` says what is wrong and `remedy` what to do about it."""

    def __init__(self, message: str, remedy: str = "") -> None:
        super().__init__(f"{message}: {remedy}" if remedy else message)
        self.message = message
        self.remedy = remedy


class NotFoundError(CaseError):
    """What was asked for does not exist, or is none of the asker's business."""


class GoneError(CaseError):
    """A link or upload that has ended."""


class ConflictError(CaseError):
    """The request does not fit the present state."""


class InvalidError(CaseError):
    """A value is out of its range."""


class RejectedPhotoError(CaseError):
    """A file that is not taken as a photo; `kind` is the inspection schema's error kind."""

    def __init__(self, kind: str, message: str, remedy: str) -> None:
        super().__init__(message, remedy)
        self.kind = kind


class BusyError(CaseError):
    """Too much is waiting already; try again after `retry_after` seconds."""

    def __init__(self, retry_after: int) -> None:
        super().__init__("too much is waiting to be analysed", f"try again in {retry_after} s")
        self.retry_after = retry_after

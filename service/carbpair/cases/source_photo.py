"""A photo on its way to the analyser."""

from dataclasses import dataclass


@dataclass(frozen=True)
class SourcePhoto:
    """Encoded bytes under a name that may be shown; `notes` from an earlier decoding.

    `view`: what the sender says the photo shows, as in `photo.VIEWS`.
    """

    name: str
    data: bytes
    notes: tuple[str, ...] = ()
    view: str = "other"

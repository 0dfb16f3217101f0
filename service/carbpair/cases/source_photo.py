"""A photo on its way to the analyser."""

from dataclasses import dataclass

from carbpair.drawn_carb import DrawnCarb


@dataclass(frozen=True)
class SourcePhoto:
    """Encoded bytes under a name that may be shown; `notes` from an earlier decoding.

    `view`: what the sender says the photo shows, as in `photo.VIEWS`. `drawn` are carburettors
    that a person drew on it at the desk.
    """

    name: str
    data: bytes
    notes: tuple[str, ...] = ()
    view: str = "other"
    drawn: tuple[DrawnCarb, ...] = ()

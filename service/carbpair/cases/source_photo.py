"""A photo on its way to the analyser."""

from dataclasses import dataclass


@dataclass(frozen=True)
class SourcePhoto:
    """Encoded bytes under a name that may be shown; `notes` from an earlier decoding."""

    name: str
    data: bytes
    notes: tuple[str, ...] = ()

"""Draws what was read onto the photo: legible on a phone, without relying on colour."""

from carbpair.annotate.picture import annotate

__all__ = ["annotate"]

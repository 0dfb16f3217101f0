"""From bytes to a checked, upright RGB picture, and how good a picture it is."""

from carbpair.photo.errors import PhotoError
from carbpair.photo.limits import DEFAULT_LIMITS, PhotoLimits
from carbpair.photo.metadata import clean_jpeg
from carbpair.photo.photo import Photo, load_photo, load_photo_bytes
from carbpair.photo.quality import Quality, assess_quality

__all__ = [
    "DEFAULT_LIMITS",
    "Photo",
    "PhotoError",
    "PhotoLimits",
    "Quality",
    "assess_quality",
    "clean_jpeg",
    "load_photo",
    "load_photo_bytes",
]

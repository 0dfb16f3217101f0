"""Turns a sender's bytes into a photo fit to keep: checked, upright, without metadata."""

from carbpair.cases.error import RejectedPhotoError
from carbpair.cases.photo import CleanPhoto
from carbpair.cases.settings import ServiceSettings
from carbpair.photo import PhotoError, PhotoLimits, clean_jpeg, load_photo_bytes
from carbpair.photo.quality import assess_quality


def photo_limits(settings: ServiceSettings) -> PhotoLimits:
    """Return the settings' caps in the photo station's form."""
    return PhotoLimits(
        max_bytes=settings.max_photo_bytes, max_megapixels=settings.max_photo_pixels / 1e6
    )


def clean_photo(data: bytes, settings: ServiceSettings) -> CleanPhoto:
    """Decode, judge and encode anew; raises RejectedPhotoError with the remedy."""
    try:
        photo = load_photo_bytes(data, "the photo", photo_limits(settings))
    except PhotoError as error:
        raise RejectedPhotoError(error.kind, error.message, error.remedy) from None
    side = settings.stored_photo_side
    scale = min(1.0, side / max(photo.width, photo.height))
    width, height = max(1, round(photo.width * scale)), max(1, round(photo.height * scale))
    return CleanPhoto(
        jpeg=clean_jpeg(photo.pixels, max_side=side),
        width=width,
        height=height,
        notes=photo.notes,
        quality=assess_quality(photo.pixels).as_json(),
    )

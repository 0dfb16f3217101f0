"""What an installation can set, from `CARBPAIR_…` environment variables."""

from pathlib import Path

from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict

from carbpair.photo.limits import MAX_BYTES, MAX_MEGAPIXELS, PhotoLimits

PACKAGE = Path(__file__).parent


def default_model_dir() -> Path:
    """Return the weights inside an installed package, or `models/` of a clone."""
    installed = PACKAGE / "weights"
    return installed if installed.is_dir() else PACKAGE.parents[1] / "models"


class Settings(BaseSettings):
    """Limits and places for inspecting photos.

    CARBPAIR_MAX_PHOTO_BYTES, CARBPAIR_MAX_PHOTO_PIXELS and CARBPAIR_MODEL_DIR; a value that
    makes no sense raises pydantic's ValidationError, which names the variable.
    """

    model_config = SettingsConfigDict(env_prefix="CARBPAIR_", extra="ignore", frozen=True)

    max_photo_bytes: int = Field(MAX_BYTES, ge=1)
    max_photo_pixels: int = Field(round(MAX_MEGAPIXELS * 1e6), ge=1)
    model_dir: Path = Field(default_factory=default_model_dir)

    def photo_limits(self) -> PhotoLimits:
        """Return the caps as the photo station takes them."""
        return PhotoLimits(
            max_bytes=self.max_photo_bytes, max_megapixels=self.max_photo_pixels / 1e6
        )

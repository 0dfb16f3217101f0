from pathlib import Path

import pytest
from pydantic import ValidationError

from carbpair.settings import Settings, default_model_dir


def test_defaults_are_25_megabytes_and_50_megapixels(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("BYTES", "PIXELS"):
        monkeypatch.delenv(f"CARBPAIR_MAX_PHOTO_{name}", raising=False)
    limits = Settings().photo_limits()
    assert (limits.max_bytes, limits.max_megapixels) == (25 * 2**20, 50.0)


def test_environment_and_nonsense(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("CARBPAIR_MODEL_DIR", str(tmp_path))
    assert Settings().model_dir == tmp_path
    with pytest.raises(ValidationError, match="max_photo_pixels"):
        Settings(max_photo_pixels=0)


def test_a_clone_uses_its_models_folder() -> None:
    folder = default_model_dir()
    assert folder.name in {"models", "weights"}

"""Atheris feeds the photo intake broken files: anything but a photo or its refusal is a fault.

    pip install 'carbpair[fuzz]'
    python -m tests.fuzz.fuzz_photo -max_total_time=600

Options are libFuzzer's. Starts from small JPEG, PNG, WebP and HEIC files; what breaks it is
written to ``crash-…``, and belongs into tests/http/test_bad_input.py once mended.
"""

import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["carbpair.photo", "carbpair.cases", "PIL"]):
    from carbpair.cases.error import RejectedPhotoError
    from carbpair.cases.photo_intake import clean_photo
    from carbpair.cases.settings import ServiceSettings

from tests.fuzz.seeds import photo_seeds

# Small limits: a bomb must be refused by its header, and each run stays short.
SETTINGS = ServiceSettings(
    data_dir=Path(tempfile.gettempdir()), max_photo_bytes=200_000, max_photo_pixels=500_000
)


def one_photo(data: bytes) -> None:
    """Take one file in; only a refusal with its remedy may be raised."""
    try:
        clean = clean_photo(data, SETTINGS)
    except RejectedPhotoError as error:
        refusal = error
    else:
        refusal = None
    if refusal is not None:
        assert refusal.message
        assert refusal.remedy
        return
    assert clean.jpeg.startswith(b"\xff\xd8")
    assert clean.width * clean.height <= SETTINGS.max_photo_pixels


def main() -> None:
    """Fuzz until libFuzzer's limits are reached."""
    corpus = tempfile.mkdtemp(prefix="carbpair-fuzz-")
    for number, seed in enumerate(photo_seeds()):
        (Path(corpus) / f"seed-{number}").write_bytes(seed)
    atheris.Setup([*sys.argv, "-max_len=20000", "-rss_limit_mb=4096", corpus], one_photo)
    atheris.Fuzz()


if __name__ == "__main__":
    main()

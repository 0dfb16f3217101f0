"""Where the templates, styles and scripts are: in the wheel, or in ``web/`` of a checkout."""

from pathlib import Path

import carbpair


def web_folder() -> Path:
    """Return the folder of templates, css, js and locale; raises FileNotFoundError."""
    package = Path(carbpair.__file__).parent
    for folder in (package / "web", package.parents[1] / "web"):
        if (folder / "templates").is_dir():
            return folder
    raise FileNotFoundError("the web pages are missing: install carbpair again")

"""Build hook: puts weights, their cards and the web pages into the wheel, as far as they exist."""

from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class IncludeAssets(BuildHookInterface):
    """Adds files that live outside the package folder; an editable install needs none of them."""

    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        if version == "editable":
            return
        root = Path(self.root)
        include = build_data["force_include"]
        for pattern in ("*.onnx", "*.json"):
            for path in sorted((root / "models").glob(pattern)):
                include[str(path)] = f"carbpair/weights/{path.name}"
        for path in sorted((root / "web").rglob("*")):
            if path.is_file():
                include[str(path)] = f"carbpair/web/{path.relative_to(root / 'web').as_posix()}"

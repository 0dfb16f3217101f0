"""Refusals of the evaluation: which file, what is wrong, what to do."""

from pathlib import Path


class TruthError(ValueError):
    """A truth file that is missing or wrong; ``str()`` names the file and the remedy."""

    def __init__(self, file: Path | str, message: str, remedy: str) -> None:
        self.file = str(file)
        self.message = message
        self.remedy = remedy
        super().__init__(f"{file}: {message} {remedy}")


class OutputError(ValueError):
    """An output that would overwrite something it must not."""

"""What the README tells people to type works."""

import importlib.util
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]


def blocks(language: str) -> list[tuple[str, str]]:
    found = []
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        for body in re.findall(rf"^```{language}\n(.*?)^```", text, flags=re.M | re.S):
            found.append((page.name, body))
    return found


def test_readme_has_the_two_commands() -> None:
    install, test = [body.strip() for name, body in blocks("sh") if name == "README.md"][:2]
    assert re.search(r"carbpair inspect (--each )?sample_images/", install)
    ci = (ROOT / ".ci/run").read_text(encoding="utf-8").splitlines()
    assert test in ci


@pytest.mark.parametrize(("page", "code"), blocks("python"))
def test_python_examples_run(page: str, code: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert done.returncode == 0, done.stderr
    # A comment after a print states what it prints.
    expected = re.findall(r"^print\(.*\)  # (.+)$", code, flags=re.M)
    assert done.stdout.split("\n")[: len(expected)] == expected


def inspect_lines() -> list[str]:
    lines = [line for _, body in blocks("sh") for line in body.splitlines()]
    return [line for line in lines if line.startswith("carbpair inspect ")]


@pytest.mark.skipif(
    importlib.util.find_spec("carbpair.inspection") is None
    or not list((ROOT / "sample_images").glob("*.jpg")),
    reason="needs the inspection and sample pictures",
)
@pytest.mark.parametrize("line", inspect_lines())
def test_inspect_examples_run(line: str, tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    for picture in sorted((ROOT / "sample_images").glob("*.jpg"))[:2]:
        shutil.copy(picture, tmp_path / "photos")
    command = [str(Path(sys.executable).parent / "carbpair"), *shlex.split(line)[1:]]
    if ">" in command:
        command = command[: command.index(">")]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=tmp_path)
    assert done.returncode == 0, done.stderr

"""The arrows of the house that no import linter sees, and what may stand in no file of it."""

import ast
import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
FIRMWARE = sorted((ROOT / "firmware").glob("*.py"))
MICROPYTHON = {"array", "binascii", "errno", "gc", "json", "machine", "micropython", "os", "rp2", "select"}
MICROPYTHON |= {"struct", "sys", "time"}


def imports(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add((node.module or "").split(".")[0])
    return found


@pytest.mark.parametrize("path", FIRMWARE, ids=lambda path: path.name)
def test_firmware_imports_only_firmware_and_micropython(path):
    own = {other.stem for other in FIRMWARE}
    assert imports(path) <= own | MICROPYTHON


@pytest.mark.parametrize("path", FIRMWARE, ids=lambda path: path.name)
def test_only_the_board_shell_and_the_boot_files_know_the_machine(path):
    if path.name not in ("board.py", "boot.py", "main.py", "maintenance.py"):
        assert not imports(path) & {"machine", "rp2"}


def test_host_imports_no_firmware():
    own = {other.stem for other in FIRMWARE} - {"capture", "framing"}
    for path in (ROOT / "host").rglob("*.py"):
        if "standin" not in path.parts:
            assert not imports(path) & (own | {"firmware"}) - {"board", "main"}, path


def tracked() -> list[Path]:
    done = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        pytest.skip("not a git checkout")
    return [ROOT / name for name in done.stdout.splitlines()]


def test_no_file_names_a_machines_path_or_a_module_without_a_subject():
    private = re.compile(r"(?<![\w.])/(?:work|root|home)/\w")
    for path in tracked():
        assert path.stem not in ("utils", "util", "helpers", "helper", "misc", "common"), path
        if path.suffix in (".py", ".md", ".toml", ".json", ".txt", "") and path.is_file():
            assert not private.search(path.read_text("utf-8", errors="ignore")), path

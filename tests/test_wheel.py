"""The built wheel, installed in a fresh environment outside the checkout, does the main job."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


def run(*command: object, cwd: Path) -> subprocess.CompletedProcess[str]:
    clean = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "VIRTUAL_ENV"))}
    done = subprocess.run([*map(str, command)], cwd=cwd, env=clean, capture_output=True, text=True, timeout=900)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-4000:]
    return done


@pytest.mark.slow
def test_wheel_in_a_fresh_environment_runs_the_demo(tmp_path):
    run(sys.executable, "-m", "pip", "wheel", "--no-deps", "--wheel-dir", tmp_path, ROOT, cwd=tmp_path)
    (wheel,) = tmp_path.glob("rodtrue-*.whl")
    run(sys.executable, "-m", "venv", tmp_path / "fresh", cwd=tmp_path)
    python = tmp_path / "fresh" / "bin" / "python"
    run(python, "-m", "pip", "install", "--quiet", wheel, cwd=tmp_path)

    where = run(python, "-c", "import rodtrue; print(rodtrue.__file__)", cwd=tmp_path).stdout
    assert str(tmp_path) in where and str(ROOT) not in where
    command = tmp_path / "fresh" / "bin" / "rodtrue"
    done = run(command, "demo", "--rod-error", "-3", "--seed", "1", "--json", cwd=tmp_path)
    result = json.loads(done.stdout)
    assert result["verdict"] == "short"
    assert result["fixture"]["kind"] == "virtual"
    assert result["fixture"]["interpreter"].startswith("micropython")
    again = run(command, "judge", result["capture"]["path"], "--json", cwd=tmp_path)
    assert json.loads(again.stdout)["rod_error"] == result["rod_error"]

"""A process that makes one report after the other stays as large as it is, and never runs out of anything."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from report.stored import short_job
from rodtrue.judging import encode

_RESIDENT_AFTER_EACH = """
import resource
import sys
from dataclasses import replace
from pathlib import Path

from rodtrue.report import report_pdf
from rodtrue.report.reading import read_job

job = read_job(Path(sys.argv[1]))
for number in range(12):
    report_pdf(replace(job, customer=f"Customer {number}"))
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    print(pages * resource.getpagesize() / 1e6)
"""

_WHEN_FEW_NUMBERS_ARE_LEFT = """
import sys
from pathlib import Path

import typst

from rodtrue.report import report_pdf
from rodtrue.report.reading import read_job

fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False)


def use_up(numbers):
    for _ in range(numbers):
        typst.Compiler(b"", font_paths=fonts)


job = read_job(Path(sys.argv[1]))
use_up(65_535 - 6)
print(len({report_pdf(job) for _ in range(8)}))
try:
    use_up(6)
except BaseException as error:
    print(error)
"""


def _told_by(program: str, folder: Path) -> list[str]:
    job = folder / "job.json"
    job.write_bytes(encode(short_job()))
    ended = subprocess.run(
        [sys.executable, "-c", program, job], capture_output=True, text=True, timeout=300, check=False
    )
    assert ended.returncode == 0, ended.stderr
    return ended.stdout.splitlines()


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="this system does not tell a process's memory")
def test_twelve_reports_need_the_memory_of_one(tmp_path: Path) -> None:
    resident_mb = [float(line) for line in _told_by(_RESIDENT_AFTER_EACH, tmp_path)]
    assert resident_mb[11] - resident_mb[1] < 35


@pytest.mark.slow
def test_reports_use_up_none_of_the_numbers_that_typst_has_for_its_files(tmp_path: Path) -> None:
    different, then = _told_by(_WHEN_FEW_NUMBERS_ARE_LEFT, tmp_path)
    assert different == "1"
    assert then.startswith("out of file ids")  # else they do not run out any more, and this test can go

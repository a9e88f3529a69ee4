"""The same job, settings and versions give the same bytes, anywhere and at any time; and it is good in grey."""

from __future__ import annotations

import io
import os
import shutil
import subprocess
import sys
from itertools import combinations
from pathlib import Path

import pytest
from pypdf import PdfReader

from report.stored import short_job
from rodtrue.judging import encode
from rodtrue.report import report_pdf


def _made_elsewhere(job: Path, out: Path, **environment: str) -> bytes:
    ended = subprocess.run(
        [sys.executable, "-m", "rodtrue", "report", job, "--out", out],
        cwd=out.parent,
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert ended.returncode == 0, ended.stderr
    return out.read_bytes()


def test_other_processes_clocks_zones_and_places_make_no_difference(tmp_path: Path) -> None:
    job = tmp_path / "job.json"
    job.write_bytes(encode(short_job(customer="Ann Example")))
    here = report_pdf(short_job(customer="Ann Example"))
    folder = tmp_path / "elsewhere"
    folder.mkdir()
    settings = {"PYTHONHASHSEED": "7", "TZ": "Asia/Tokyo", "HOME": str(folder), "SOURCE_DATE_EPOCH": "1"}
    assert _made_elsewhere(job, folder / "a.pdf", **settings) == here


def test_a_persons_matplotlib_settings_make_no_difference(tmp_path: Path) -> None:
    job = tmp_path / "job.json"
    job.write_bytes(encode(short_job()))
    style = tmp_path / "matplotlibrc"
    style.write_text("lines.linewidth: 9\nfont.size: 30\naxes.facecolor: red\nsvg.hashsalt: other\n")
    assert _made_elsewhere(job, tmp_path / "a.pdf", MATPLOTLIBRC=str(style)) == report_pdf(short_job())


def test_only_fonts_that_come_with_the_program_are_in_it_and_all_of_them_are_embedded() -> None:
    names = set()
    for page in PdfReader(io.BytesIO(report_pdf(short_job()))).pages:
        for font in page["/Resources"].get("/Font", {}).values():
            (below,) = font.get_object()["/DescendantFonts"]
            descriptor = below.get_object()["/FontDescriptor"]
            names.add(str(descriptor["/FontName"]).split("+")[-1])
            assert "/FontFile2" in descriptor or "/FontFile3" in descriptor
    assert names and all(name.startswith("DejaVuSans") for name in names)


def test_nothing_is_said_by_colour(tmp_path: Path) -> None:
    from PIL import Image, ImageChops

    if shutil.which("pdftoppm") is None:
        if os.environ.get("RODTRUE_REQUIRE_REAL") == "1":
            pytest.fail("no pdftoppm on this computer, and RODTRUE_REQUIRE_REAL=1")
        pytest.skip("no pdftoppm on this computer: pages cannot be looked at")
    (tmp_path / "a.pdf").write_bytes(report_pdf(short_job()))
    subprocess.run(
        ["pdftoppm", "-r", "40", "-png", "a.pdf", "page"], cwd=tmp_path, check=True, capture_output=True, timeout=60
    )
    images = sorted(tmp_path.glob("page*.png"))
    assert len(images) >= 4
    for path in images:
        with Image.open(path) as image:
            bands = image.convert("RGB").split()
            spread = max(ImageChops.difference(a, b).getextrema()[1] for a, b in combinations(bands, 2))
        assert spread <= 24, path.name  # the ink is a very dark blue: as good as black

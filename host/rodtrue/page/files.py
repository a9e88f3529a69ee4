"""What a job has left, for download: named by what it is, never by a path that somebody sends."""

from __future__ import annotations

import threading
from pathlib import Path

from fastapi import FastAPI, HTTPException, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import FileResponse, Response

from rodtrue.model.errors import RodtrueError
from rodtrue.page.access import may, viewer_of
from rodtrue.page.engine import Engine
from rodtrue.page.shown import Shown
from rodtrue.run.job import cannot_write
from rodtrue.run.words import Units
from rodtrue.whole_file import write_whole

one_report_at_a_time = threading.Lock()
"""Plots are drawn by a library that several threads may not use at once."""


def file_links(shown: Shown) -> list[tuple[str, str, bool]]:
    """Return words, address and whether it is the main one, for each file that can be fetched."""
    if "job" not in shown.files:
        return []
    return [("Report (PDF)", "/job/report.pdf", True), ("Job file", "/job/job.json", False)]


def serve_files(app: FastAPI, engine: Engine) -> None:
    """Serve the report and the job file of the run that is shown."""

    @app.get("/job/report.pdf")
    async def report(request: Request) -> Response:
        job = _file(request, engine)
        try:
            pdf = await run_in_threadpool(make_report, job, engine.shown.units, _serial(engine))
        except RodtrueError as error:
            raise HTTPException(409, str(error)) from error
        how = f'inline; filename="{job.parent.name}.pdf"'
        return Response(pdf, media_type="application/pdf", headers={"Content-Disposition": how})

    @app.get("/job/job.json")
    async def job(request: Request) -> Response:
        path = _file(request, engine)
        if not path.is_file():
            raise HTTPException(404, f"{path} is gone: look for it on this computer's disk.")
        return FileResponse(path, filename="job.json")


def make_report(job: Path, units: Units, valve_body_serial: str | None = None) -> bytes:
    """Write the report of a job file beside it and return its bytes. Raises: InputError."""
    from rodtrue.report import read_job, report_pdf

    with one_report_at_a_time:
        pdf = report_pdf(read_job(job), units, valve_body_serial=valve_body_serial)
        path = job.with_name("report.pdf")
        try:
            write_whole(path, pdf)
        except OSError as error:
            raise cannot_write(path, error) from error
        return pdf


def _serial(engine: Engine) -> str | None:
    run = engine.shown.run
    return None if run is None else run.choice.serial


def _file(request: Request, engine: Engine) -> Path:
    if not may(viewer_of(request), "download_report"):
        raise HTTPException(403, "Not from here.")
    job = engine.shown.files.get("job")
    if job is None:
        raise HTTPException(404, "There is no result yet.")
    return job

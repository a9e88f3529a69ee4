"""The history's addresses: the page itself, and the report of a kept job."""

from __future__ import annotations

from fastapi import FastAPI, HTTPException, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import Response
from nicegui import ui

from rodtrue.model.errors import InputError, RodtrueError
from rodtrue.page.access import may, viewer_of
from rodtrue.page.engine import Engine
from rodtrue.page.files import one_report_at_a_time
from rodtrue.page.history import RecordsDesk
from rodtrue.page.views.history import draw_history
from rodtrue.run.words import Units

_HEAD = (
    '<meta name="color-scheme" content="light dark">'
    '<link rel="stylesheet" href="/static/style.css">'
    '<link rel="stylesheet" href="/static/history.css">'
    '<script src="/static/page.js"></script>'
)


def serve_history(app: FastAPI, engine: Engine, desk: RecordsDesk) -> None:
    """Define the history view and what can be fetched from it."""

    @ui.page("/history", title="Rodtrue: history", viewport="width=device-width, initial-scale=1")
    async def history_page() -> None:
        ui.add_head_html(_HEAD)
        await draw_history(engine, desk)

    @app.get("/history/{number}/report.pdf")
    async def report(request: Request, number: int) -> Response:
        if not may(viewer_of(request), "download_report"):
            raise HTTPException(403, "Not from here.")
        try:
            pdf = await run_in_threadpool(_report_of, desk, number, engine.shown.units)
        except RodtrueError as error:
            raise HTTPException(404 if isinstance(error, InputError) else 503, str(error)) from error
        how = f'inline; filename="job-{number}.pdf"'
        return Response(pdf, media_type="application/pdf", headers={"Content-Disposition": how})


def _report_of(desk: RecordsDesk, number: int, units: Units) -> bytes:
    from rodtrue.report import report_pdf

    job, serial = desk.job_and_serial(number)
    with one_report_at_a_time:
        return report_pdf(job, units, valve_body_serial=serial)

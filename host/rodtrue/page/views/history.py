"""The kept jobs, newest first: found by unit and verdict, opened to see as found beside as left."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fastapi.concurrency import run_in_threadpool
from nicegui import ui

from rodtrue.model.counted import counted
from rodtrue.model.errors import RodtrueError
from rodtrue.model.local_time import local_minute
from rodtrue.page.elements import box, key, pick, say, text_field
from rodtrue.page.engine import Engine
from rodtrue.page.history import OF_BODY, SHOWN_AT_ONCE, KeptJob, RecordsDesk
from rodtrue.page.views.results import draw_result, draw_shape, main_verdict
from rodtrue.run.words import BODY_WORDS, VIRTUAL_MARK, Units, length

if TYPE_CHECKING:
    from rodtrue.records import RunRow

_VERDICTS = {"": "any"} | {word: word for word in ("long", "short", "correct", "undecided", "no result")}
_VERDICTS |= {OF_BODY + word: OF_BODY + word for word in ("conforming", "nonconforming", "undecided")}
_ROLES = {"as_found": "As found", "as_left": "As left"}


async def draw_history(engine: Engine, desk: RecordsDesk) -> None:
    """Draw the view for one browser, filled."""
    with box("rt-page"):
        with box("rt-head", "header"):
            say("History", "rt-name", "h1")
            with box("rt-head-keys"):
                say("Back to the bench", "rt-key rt-quiet", "a", href="/")
                key("Light or dark", lambda: ui.run_javascript("rodtruePage.turnTheme()"), "rt-quiet")
        with box("rt-history", "main"):
            view = _History(engine, desk)
    await view.find()


class _History:
    """One browser's list and what is open in it."""

    def __init__(self, engine: Engine, desk: RecordsDesk) -> None:
        self._engine, self._desk = engine, desk
        self._client = ui.context.client  # the control that asks may be gone by the time of the answer
        self._unit = self._verdict = ""
        self._searches = 0
        self._rows: dict[int, tuple[tuple[KeptJob, Units], ui.element]] = {}
        with box("rt-history-filter rt-form-pair", "section", aria_label="Find"):
            text_field("Unit", "", self._take_unit, hint="part of its number, name or serial number")
            pick("Verdict", _VERDICTS, "", self._take_verdict)
        self._opened = box("rt-history-open", "section", aria_label="Opened job")
        self._said = say("", "rt-soft", role="status")
        self._list = box("rt-history-list", "ul", aria_label="Jobs, newest first")
        self._count = SHOWN_AT_ONCE
        self._older = key("Show older jobs", self._show_older)
        self._older.set_visibility(False)

    async def find(self) -> None:
        """Show the jobs that are asked for; what comes late, after another search, is dropped."""
        self._searches += 1
        mine = self._searches
        try:
            jobs, older = await run_in_threadpool(self._desk.newest, self._unit, self._verdict, self._count)
        except RodtrueError as error:
            jobs, older, said = [], False, f"The history cannot be read: {error.message}. {error.next_step}"
        else:
            said = _count_words(len(jobs), older=older)
        if mine != self._searches:
            return
        self._said.text = said
        self._list_jobs(jobs, self._engine.shown.units)
        self._older.set_visibility(older)

    async def _show_older(self) -> None:
        """Show as many again, and go on from the first of them."""
        first = self._count
        self._count += SHOWN_AT_ONCE
        await self.find()
        place = f"document.querySelectorAll('.rt-history-row')[{first}]"
        self._client.run_javascript(f"{place}?.focus()")

    async def _take_unit(self, text: str) -> None:
        self._unit, self._count = text.strip(), SHOWN_AT_ONCE
        await self.find()

    async def _take_verdict(self, word: str) -> None:
        self._verdict, self._count = word, SHOWN_AT_ONCE
        await self.find()

    def _list_jobs(self, jobs: list[KeptJob], units: Units) -> None:
        """Make the list show these; a row that says the same stays, so that a press on it meanwhile is not lost."""
        before, self._rows = self._rows, {}
        for job in jobs:
            said, row = before.get(job.number, (None, None))
            if row is None or said != (job, units):
                with self._list:
                    row = self._draw_row(job, units)
            else:
                del before[job.number]
            self._rows[job.number] = (job, units), row
        for _, row in before.values():
            row.delete()
        for place, (_, row) in enumerate(self._rows.values()):
            row.move(self._list, target_index=place)

    def _draw_row(self, job: KeptJob, units: Units) -> ui.element:
        first = job.first
        with box("", "li") as row, box("rt-key rt-history-row", "button", type="button") as button:
            button.on("click", lambda: self._open(job, button.id), args=[])
            with box("rt-history-head", "span"):
                say(_named(first), "rt-history-unit", "span")
                say(f"{_when(first.taken_at)}, job {job.number}", "", "span")
            for role, words in _ROLES.items():
                with box("rt-history-run", "span"):
                    _draw_run(words, job.runs.get(role), units)
            if first.fixture_kind == "virtual" or first.tag:
                with box("rt-history-marks", "span"):
                    if first.fixture_kind == "virtual":
                        say(VIRTUAL_MARK, "rt-virtual-mark", "span")
                    if first.tag:
                        say(first.tag, "rt-soft", "span")
        return row

    async def _open(self, kept: KeptJob, opener: int) -> None:
        number = kept.number
        try:
            job = await run_in_threadpool(self._desk.job, number)
        except RodtrueError as error:
            self._said.text = f"Job {number} cannot be opened: {error.message}. {error.next_step}"
            return
        units = self._engine.shown.units
        self._opened.clear()
        with self._opened:
            title = f"Job {number}: {_named(kept.first)}, {_when(job.as_found.taken_at)}"
            say(title, "rt-asked", "h2", id="rt-opened", tabindex="-1")
            if job.as_found.fixture.kind == "virtual":
                say(VIRTUAL_MARK[0].upper() + VIRTUAL_MARK[1:], "rt-virtual-mark")
            with box("rt-answers"):
                report = f"/history/{number}/report.pdf"
                say("Report (PDF)", "rt-key rt-main-key", "a", href=report, target="_blank")
                key("Close", lambda: self._close(opener), "rt-quiet")
            with box("rt-verdicts"):
                draw_result("As found", job.as_found, units)
                if job.as_left is not None:
                    draw_result("As left", job.as_left, units)
        self._client.run_javascript("document.getElementById('rt-opened')?.focus()")

    def _close(self, opener: int) -> None:
        """Go back to the row from which it was opened, where that is still listed."""
        self._opened.clear()
        self._client.run_javascript(f"document.getElementById('c{opener}')?.focus()")


def _named(run: RunRow) -> str:
    """Return what was measured: the unit, and the valve body's serial number where it was said."""
    unit = run.unit or "unit not named"
    return f"{unit}, serial {run.valve_body_serial}" if run.valve_body_serial else unit


def _draw_run(role: str, row: RunRow | None, units: Units) -> None:
    """Draw one run of a job: as found or as left, its verdict in shape and word, its error."""
    say(role, "rt-history-role", "span")
    if row is None:
        say("not measured", "rt-soft", "span")
        return
    with box("rt-history-verdict", "span"):
        draw_shape(main_verdict(row.reference, row.verdict, row.body_verdict), "rt-history-shape")
        if row.reference == "lever_stop":
            say(f"VALVE BODY {BODY_WORDS[row.body_verdict].upper()}", "rt-history-body", "strong")
        else:
            say(row.verdict.upper(), "", "strong")
    words = "measured alone, no rod" if row.reference == "lever_stop" else _error_words(row, units)
    say(words, "rt-history-error", "span")


def _count_words(count: int, *, older: bool) -> str:
    if count == 0:
        return "No job is kept that fits."
    jobs = counted(count, "job")
    return f"The newest {jobs}; older ones are under the list." if older else jobs


def _error_words(row: RunRow, units: Units) -> str:
    if row.rod_error_mm is not None:
        give = row.expanded_uncertainty_mm
        more = "" if give is None else f", give or take {length(give, first=units)}"
        return f"error {length(row.rod_error_mm, True, units)}{more}"
    if row.at_most_mm is not None:
        return f"error {length(row.at_most_mm, True, units)} or below"
    return "error not determined"


def _when(taken_at: str | None) -> str:
    return "time not known" if taken_at is None else local_minute(taken_at)

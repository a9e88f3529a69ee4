"""The bench page's process killed in the middle of a run that a person leads through in a browser."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Event
from typing import Any

import numpy as np

from bench.study import after_a_kill as after
from bench.study import killing
from bench.study.page_driver import PageProcess, Visitor, chromium, end_browsers

MOST_DRAWN = 3
LETS_GO_WITHIN_S = 20.0


def kill_pages(
    scratch: Path, temporary: Path, kills: int, rng: np.random.Generator, whole_s: float | None = None
) -> after.Killed:
    """Kill the page until so many kills have struck a run; start it again on what is left each time.

    temporary: the folder for what its processes keep for a while. whole_s: the processor time of a run from which
    moments are drawn; None: that of one let live first.
    """
    scratch.mkdir(parents=True, exist_ok=True)
    came = after.Killed()
    if whole_s is None:
        with chromium() as browser:
            whole_s = _let_live(browser, scratch / "whole", temporary)
    while came.struck < kills and came.drawn < MOST_DRAWN * kills:
        out = scratch / str(came.drawn)
        _kill_one(out, temporary, float(rng.uniform(0, whole_s)), came)
        with chromium() as browser:
            _open_again(browser, out, temporary, came)
        came.drawn += 1
    return came


def _let_live(browser: Any, out: Path, temporary: Path) -> float:
    """Return the processor time that the page takes for a run, in s."""
    page, visitor = _begun(browser, out, temporary)
    began_s = killing.cpu_s(page.process.pid)
    visitor.go_on(visitor.is_over)
    ended_s = killing.cpu_s(page.process.pid)
    visitor.tab.close()
    if page.stop() != 0 or began_s is None or ended_s is None:
        raise RuntimeError(f"the page does not end well: {page.log.read_text()[-2000:]}")
    return ended_s - began_s


def _kill_one(out: Path, temporary: Path, after_s: float, came: after.Killed) -> None:
    with chromium() as browser, ThreadPoolExecutor(1) as pool:
        page, visitor = _begun(browser, out, temporary)
        pid = page.process.pid
        now_s = killing.cpu_s(pid) or 0.0
        let_go = Event()

        def kill() -> list[int] | None:
            children = killing.kill_after(pid, now_s + after_s)
            if not let_go.wait(LETS_GO_WITHIN_S):
                end_browsers()  # what is asked of a tab whose page has gone may never be answered
            return children

        def is_gone() -> bool:
            return killing.cpu_s(pid) is None

        killer = pool.submit(kill)
        try:
            visitor.go_on(lambda: is_gone() or visitor.is_over())
        except Exception:
            if not is_gone():  # what a browser says whose page has gone does not matter
                raise
        finally:
            let_go.set()
            page.stop()
        children = killer.result()
    came.struck += children is not None
    came.orphans += len(killing.still_there(children or []))


def _open_again(browser: Any, out: Path, temporary: Path, came: after.Killed) -> None:
    wrong = came.left.wrong
    try:
        for folder in out.iterdir() if out.is_dir() else []:
            after.run_left(folder, came.left)
        jobs = [after.job_in(path) for path in out.rglob("job.json")]
        wrong += after.records_wrong(_records(out), jobs, 0)
        page = _started(out, temporary)
        visitor = Visitor(browser.new_page(), page.address)
        if "Begin" not in visitor.tab.content():
            wrong.append(f"{out}: started again, the page offers no run")
        visitor.tab.close()
        code = page.stop()
        if code != 0:
            wrong.append(f"{out}: started again, the page ended with {code}: {page.log.read_text()[-500:]}")
    except Exception as error:
        wrong.append(f"{out}: {error!r}")


def _begun(browser: Any, out: Path, temporary: Path) -> tuple[PageProcess, Visitor]:
    page = _started(out, temporary)
    visitor = Visitor(browser.new_page(), page.address)
    visitor.begin()
    return page, visitor


def _started(out: Path, temporary: Path) -> PageProcess:
    """Start the page; what it keeps for a while goes into `temporary`. A browser's own socket would not fit there."""
    temporary.mkdir(parents=True, exist_ok=True)
    return PageProcess(out, "--port", "virtual", "--records", str(_records(out)), settings={"TMPDIR": str(temporary)})


def _records(out: Path) -> Path:
    return out.with_suffix(".sqlite")

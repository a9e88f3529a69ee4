"""The bench page's process killed in the middle of a run that a person leads through in a browser."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

from bench.study import after_a_kill as after
from bench.study import killing
from bench.study.page_driver import PageProcess, Visitor

MOST_DRAWN = 3


def kill_pages(
    browser: Any, scratch: Path, temporary: Path, kills: int, rng: np.random.Generator, whole_s: float | None = None
) -> after.Killed:
    """Kill the page until so many kills have struck a run; start it again on what is left each time.

    temporary: the folder for what its processes keep for a while. whole_s: the processor time of a run from which
    moments are drawn; None: that of one let live first.
    """
    scratch.mkdir(parents=True, exist_ok=True)
    came = after.Killed()
    with _temporary(temporary):
        whole_s = _let_live(browser, scratch / "whole") if whole_s is None else whole_s
        while came.struck < kills and came.drawn < MOST_DRAWN * kills:
            _kill_one(browser, scratch / str(came.drawn), float(rng.uniform(0, whole_s)), came)
            came.drawn += 1
    return came


def _let_live(browser: Any, out: Path) -> float:
    """Return the processor time that the page takes for a run, in s."""
    page, visitor = _begun(browser, out)
    began_s = killing.cpu_s(page.process.pid)
    visitor.go_on(visitor.is_over)
    ended_s = killing.cpu_s(page.process.pid)
    visitor.tab.close()
    if page.stop() != 0 or began_s is None or ended_s is None:
        raise RuntimeError(f"the page does not end well: {page.log.read_text()[-2000:]}")
    return ended_s - began_s


def _kill_one(browser: Any, out: Path, after_s: float, came: after.Killed) -> None:
    page, visitor = _begun(browser, out)
    pid = page.process.pid
    now_s = killing.cpu_s(pid) or 0.0

    def is_gone() -> bool:
        return killing.cpu_s(pid) is None

    with ThreadPoolExecutor(1) as pool:
        killer = pool.submit(killing.kill_after, pid, now_s + after_s)
        try:
            visitor.go_on(lambda: is_gone() or visitor.is_over())
        except Exception:
            if not is_gone():  # what a browser says whose page has gone does not matter
                raise
        finally:
            page.stop()
        children = killer.result()
    visitor.tab.close()
    came.struck += children is not None
    came.orphans += len(killing.still_there(children or []))
    _open_again(browser, out, came)


def _open_again(browser: Any, out: Path, came: after.Killed) -> None:
    wrong = came.left.wrong
    try:
        for folder in out.iterdir() if out.is_dir() else []:
            after.run_left(folder, came.left)
        jobs = [after.job_in(path) for path in out.rglob("job.json")]
        wrong += after.records_wrong(_records(out), jobs, 0)
        page = PageProcess(out, "--port", "virtual", "--records", str(_records(out)))
        visitor = Visitor(browser.new_page(), page.address)
        if "Begin" not in visitor.tab.content():
            wrong.append(f"{out}: started again, the page offers no run")
        visitor.tab.close()
        code = page.stop()
        if code != 0:
            wrong.append(f"{out}: started again, the page ended with {code}: {page.log.read_text()[-500:]}")
    except Exception as error:
        wrong.append(f"{out}: {error!r}")


def _begun(browser: Any, out: Path) -> tuple[PageProcess, Visitor]:
    page = PageProcess(out, "--port", "virtual", "--records", str(_records(out)))
    visitor = Visitor(browser.new_page(), page.address)
    visitor.begin()
    return page, visitor


def _records(out: Path) -> Path:
    return out.with_suffix(".sqlite")


@contextlib.contextmanager
def _temporary(folder: Path) -> Iterator[None]:
    """Have the page's processes put there what is temporary."""
    folder.mkdir(parents=True, exist_ok=True)
    before = os.environ.get("TMPDIR")
    os.environ["TMPDIR"] = str(folder)
    try:
        yield
    finally:
        if before is None:
            del os.environ["TMPDIR"]
        else:
            os.environ["TMPDIR"] = before

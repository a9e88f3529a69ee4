"""The host killed (SIGKILL) at 200 moments of a run, in every short work, and as a page in a browser; PostgreSQL's
server killed while jobs are saved in it: `python -m bench.kill [--runs 200]`.

A moment of a run is a share of the processor time that the run takes, drawn with the seed: the machine's load moves
none. `demo` is played as fast as it goes, `check --port virtual` in real time, several side by side, answered from a
file. The process is forked from one that has loaded the program, and killed from outside. A moment at which the run
had ended already strikes nothing: more are drawn until as many have struck as were asked for.
"""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from argparse import ArgumentParser
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from bench.study import after_a_kill as after
from bench.study import killing, page
from bench.study.kill_page import kill_pages
from bench.study.kill_short import WORKS, Stock, kill_short_work
from bench.study.nursery import Nursery, Trial
from rodtrue.calibration.files import load_calibration, save_calibration
from rodtrue.virtual.child import BoardSettings

SEED = 20261125
MADE_UP = page.ROOT / "tests" / "data" / "calibration" / "format_version_1.json"
RUNS, SHORT, STORES, SERVERS, PAGES = 200, 40, 20, 30, 12
MOST_DRAWN = 3
"""Times as many moments as kills, before it is given up."""
CHECKS_SHARE = 0.15
DEMOS_AT_ONCE, CHECKS_AT_ONCE = 2, 8
STORED_TIMES = 6
DEMO = ["demo", "--fast", "--seed", "4", "--out"]
CHECK = ["check", "--port", "virtual", "--records"]
TEMPORARY = "temporary"
"""The folder that the nursery gives its processes for what is temporary."""


def main() -> None:
    """Kill, open again, and write results/kill.md."""
    from bench.study.kill_results import write
    from bench.study.kill_server import kill_servers

    parser = ArgumentParser()
    parser.add_argument("--runs", type=int, default=RUNS)
    parser.add_argument("--short", type=int, default=SHORT, help="kills of each short work")
    parser.add_argument("--servers", type=int, default=SERVERS, help="kills of PostgreSQL's server")
    parser.add_argument("--pages", type=int, default=PAGES, help="kills of the bench page")
    asked, _ = parser.parse_known_args()
    rng = np.random.default_rng(SEED)
    with tempfile.TemporaryDirectory(prefix="kills-") as folder, Nursery(Path(folder)) as nursery:
        scratch = Path(folder)
        checks = round(asked.runs * CHECKS_SHARE)
        demo, undisturbed = kill_demos(nursery, scratch / "demo", asked.runs - checks, rng)
        check = _kill_checks(nursery, scratch / "check", checks, rng)
        calibration = calibration_of_virtual_fixture(scratch / "calibration.json")
        _say("demos", demo.drawn, demo.struck, demo.left.wrong)
        _say("checks", check.drawn, check.struck, check.left.wrong)
        stock = Stock.of_run(undisturbed, calibration, scratch / "short")
        short = {name: kill_short_work(nursery, stock, name, asked.short, rng) for name in WORKS}
        store = kill_stores(nursery, calibration, scratch / "stores", STORES, rng)
        for name, (struck, wrong) in short.items():
            _say(name, asked.short, struck, wrong)
        server = kill_servers(nursery, stock.job, scratch / "servers", asked.servers, rng)
        _say("servers", server.drawn, server.struck, server.wrong)
        pages = kill_pages(scratch / "pages", scratch / TEMPORARY, asked.pages, rng)
        _say("pages", pages.drawn, pages.struck, pages.left.wrong)
        folders = boards_left(scratch)
    runs = {"demo --fast": demo, "check --port virtual": check, "page": pages}
    write(SEED, asked.runs, runs, short, store, server, folders)


def _say(what: str, drawn: int, struck: int, wrong: list[str]) -> None:
    """Tell at once, for whoever waits, and should what comes after it fail."""
    print(f"{what}: {drawn} drawn, {struck} struck, {len(wrong)} wrong", *wrong, sep="\n  ", flush=True)


def kill_demos(nursery: Nursery, scratch: Path, kills: int, rng: np.random.Generator) -> tuple[after.Killed, Path]:
    """Let a demo live, then kill it again and again; return what came of it, and the living one's folder."""
    whole_s, undisturbed = _let_live(nursery, Trial("rodtrue.cli:main", arguments=[*DEMO, str(scratch / "whole")]))
    killed, one_at_a_time = after.Killed(), Lock()

    def kill(number: int, after_s: float) -> None:
        out = scratch / str(number)
        with one_at_a_time:
            pid = nursery.begin(Trial("rodtrue.cli:main", arguments=[*DEMO, str(out)]))
        children = killing.kill_after(pid, after_s)
        with one_at_a_time:
            _count(killed, pid, children)
            _open_again(killed, out, undisturbed)
            shutil.rmtree(out, ignore_errors=True)

    _until_struck(DEMOS_AT_ONCE, kill, killed, kills, lambda many: rng.uniform(0, whole_s, many))
    return killed, undisturbed


def _kill_checks(nursery: Nursery, scratch: Path, kills: int, rng: np.random.Generator) -> after.Killed:
    """Kill checks in real time, some side by side; their records are opened again too."""
    scratch.mkdir()
    answers = scratch / "answers"
    answers.write_text("\n" * 400)

    def trial(name: str) -> Trial:
        place = str(scratch / f"{name}.sqlite")
        return Trial(
            "rodtrue.cli:main", arguments=[*CHECK, place, "--out", str(scratch / name)], answers=str(answers)
        )

    whole_s, _ = _let_live(nursery, trial("whole"))
    killed, one_at_a_time = after.Killed(), Lock()

    def kill(number: int, after_s: float) -> None:
        with one_at_a_time:
            pid = nursery.begin(trial(str(number)))
        children = killing.kill_after(pid, after_s)
        with one_at_a_time:
            _count(killed, pid, children)
            _open_again(killed, scratch / str(number))
            jobs = [after.job_in(path) for path in (scratch / str(number)).rglob("job.json")]
            if jobs:
                killed.left.wrong += after.records_wrong(scratch / f"{number}.sqlite", jobs, 0)

    _until_struck(CHECKS_AT_ONCE, kill, killed, kills, lambda many: rng.uniform(0, whole_s, many))
    return killed


def _until_struck(
    at_once: int,
    kill: Callable[[int, float], None],
    killed: after.Killed,
    kills: int,
    draw: Callable[[int], NDArray[np.float64]],
) -> None:
    """Kill at moments drawn in s, some side by side, until so many have struck."""
    with ThreadPoolExecutor(at_once) as pool:
        while killed.struck < kills and killed.drawn < MOST_DRAWN * kills:
            moments_s = draw(kills - killed.struck).tolist()
            first, killed.drawn = killed.drawn, killed.drawn + len(moments_s)
            list(pool.map(kill, range(first, killed.drawn), moments_s))


def kill_stores(
    nursery: Nursery, calibration: Path, scratch: Path, kills: int, rng: np.random.Generator
) -> tuple[int, list[str]]:
    """Kill a host that stores a calibration in a fixture again and again, every other time the fixture first, as if
    its power went; switch the fixture on again. Returns how many kills struck, and what was wrong.
    """
    scratch.mkdir(parents=True)

    def begin(folder: Path) -> int:
        folder.mkdir()
        (folder / "flash").mkdir()
        given = {
            "document": str(calibration),
            "flash": str(folder / "flash"),
            "told": str(folder / "told"),
            "times": STORED_TIMES,
        }
        return nursery.begin(Trial("bench.study.kill_works:store_in_fixture", given))

    whole_s = killing.watch_to_the_end(begin(scratch / "whole"))
    struck, wrong = 0, []
    for number in range(kills):
        folder = scratch / str(number)
        pid = begin(folder)
        children = killing.kill_after(pid, float(rng.uniform(0, whole_s)), children_first=bool(number % 2))
        struck += children is not None
        wrong += [f"{folder}: MicroPython lives on" for _ in killing.still_there(children or [])]
        wrong += after.fixture_wrong(folder / "flash", folder / "told")
    return struck, wrong


def boards_left(scratch: Path) -> tuple[int, int]:
    """Return how many virtual boards' folders the killed hosts left, and how many a later fixture leaves of them."""
    from rodtrue.run.session import default_plant
    from rodtrue.virtual.fixture import VirtualFixture
    from rodtrue.virtual.flash import LEFT_AFTER_S

    temporary = scratch / TEMPORARY
    left = list(temporary.iterdir())
    for folder in left:
        os.utime(folder, (time.time() - 2 * LEFT_AFTER_S,) * 2)
    before, tempfile.tempdir = tempfile.tempdir, str(temporary)
    try:
        VirtualFixture(default_plant(), pace="manual").close()
    finally:
        tempfile.tempdir = before
    return len(left), len(list(temporary.iterdir()))


def _let_live(nursery: Nursery, trial: Trial) -> tuple[float, Path]:
    """Return the processor time a run takes, and its folder."""
    taken_s = killing.watch_to_the_end(nursery.begin(trial))
    out = Path(trial.arguments[-1])
    if not list(out.rglob("report.pdf")):
        raise RuntimeError(f"{trial.arguments} does not end well: {nursery.said.read_text()[-2000:]}")
    (folder,) = out.iterdir()
    return taken_s, folder


def _count(killed: after.Killed, pid: int, children: list[int] | None) -> None:
    killed.struck += children is not None
    killed.orphans += len(killing.still_there([pid, *(children or [])]))


def _open_again(killed: after.Killed, out: Path, undisturbed: Path | None = None) -> None:
    for folder in out.iterdir() if out.is_dir() else []:
        try:
            after.run_left(folder, killed.left, undisturbed)
        except Exception as error:
            killed.left.wrong.append(f"{folder}: {error!r}")


def calibration_of_virtual_fixture(to: Path) -> Path:
    """Write a calibration of the virtual fixture, made up."""
    document = load_calibration(MADE_UP)
    unique_id = BoardSettings.unique_id.hex()
    save_calibration(replace(document, fixture=replace(document.fixture, unique_id=unique_id)), to)
    return to


if __name__ == "__main__":
    main()

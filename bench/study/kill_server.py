"""PostgreSQL's server killed while jobs are being saved in it; then started again, and what is kept there opened."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import time
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from bench.study import after_a_kill as after
from bench.study.killing import still_there, watch_to_the_end
from bench.study.nursery import Nursery, Trial
from bench.study.soaking import children_of
from rodtrue.records import open_records

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "tests"))

from records.postgresql import Server, installed_programs, running_server

MANY = 12
"""Jobs saved one after the other; the kill comes while this goes on."""
LOOK_S = 0.001
LONGEST_S = 300.0
MOST_DRAWN = 3
"""Times as many moments as kills: a saver that always ends first would else be waited for without end."""


@dataclass
class Servers:
    """What came of it. drawn: moments; struck: those at which jobs were still being saved."""

    drawn: int = 0
    struck: int = 0
    wrong: list[str] = field(default_factory=list)


def kill_servers(nursery: Nursery, job: Path, scratch: Path, kills: int, rng: np.random.Generator) -> Servers:
    """Kill a server until so many kills have struck: in turn shut down at once, and SIGKILL to all its processes;
    every third time in a database that is still empty, whose tables are made meanwhile.

    Raises: RuntimeError where no PostgreSQL is installed.
    """
    programs = installed_programs()
    if programs is None:
        raise RuntimeError("PostgreSQL is not installed (Debian: postgresql)")
    scratch.mkdir(parents=True)
    came = Servers()
    with running_server(programs) as server:
        whole_s = _let_live(nursery, job, server.new_database(), scratch / "whole")
        while came.struck < kills and came.drawn < MOST_DRAWN * kills:
            empty = came.drawn % 3 == 2
            after_s = float(rng.uniform(0, whole_s[empty]))
            _kill_one(nursery, job, server, scratch / str(came.drawn), after_s, came, empty=empty)
    return came


def _let_live(nursery: Nursery, job: Path, database: str, told: Path) -> tuple[float, float]:
    """Return how long it takes to save, in s: in a database with its tables from the first job on, in an empty one
    from the opening on.
    """
    taken_s = []
    for empty in (True, False):
        told.unlink(missing_ok=True)
        pid, began_s = _begin(nursery, job, database, told, empty=empty)
        watch_to_the_end(pid)
        taken_s.append(time.monotonic() - began_s)
        if _said(told)[-1] != "done":
            raise RuntimeError(f"saving does not end well: {_said(told)[-1]}")
    return taken_s[1], taken_s[0]


def _kill_one(
    nursery: Nursery, job: Path, server: Server, told: Path, after_s: float, came: Servers, *, empty: bool
) -> None:
    database = server.new_database()
    if not empty:
        open_records(database).close()
    pid, began_s = _begin(nursery, job, database, told, empty=empty)
    time.sleep(max(0.0, began_s + after_s - time.monotonic()))
    if came.drawn % 2:
        _kill_all(server)
    else:
        server.stop()
    watch_to_the_end(pid)
    server.start()
    came.drawn += 1
    said = _said(told)
    came.struck += said[-1].startswith("refused:")
    if said[-1] != "done" and not said[-1].startswith("refused:"):
        came.wrong.append(f"{database}: the host ended without a word after {said[-1]}")
    saved = sum(line.startswith("saved") for line in said)
    jobs = [replace(after.job_in(job), reference=str(number)) for number in range(MANY)]
    try:
        came.wrong += after.kept_wrong(database, jobs, saved)
    except Exception as error:
        came.wrong.append(f"{database}, {said[-1]}: {error!r}")


def _begin(nursery: Nursery, job: Path, database: str, told: Path, *, empty: bool) -> tuple[int, float]:
    """Begin; return the process, and when it opened an empty database or saved the first job, by `time.monotonic`."""
    given = {"job": str(job), "records": database, "told": str(told), "many": MANY}
    pid = nursery.begin(Trial("bench.study.kill_works:save_many", given))
    until = time.monotonic() + LONGEST_S
    while len(_said(told)) < 2 - empty:
        if time.monotonic() > until:
            raise TimeoutError(f"{told}: saving does not begin")
        time.sleep(LOOK_S)
    return pid, time.monotonic()


def _said(told: Path) -> list[str]:
    return told.read_text().splitlines() if told.exists() else []


def _kill_all(server: Server) -> None:
    """SIGKILL to the server and all that it has started."""
    lock = server.folder / "data" / "postmaster.pid"
    locks = [lock, *server.folder.glob(".s.PGSQL.*.lock")]
    pid = int(lock.read_text().split()[0])
    os.kill(pid, signal.SIGSTOP)  # it starts no more
    everyone = [*children_of(pid), pid]
    for number in everyone:
        with contextlib.suppress(ProcessLookupError):
            os.kill(number, signal.SIGKILL)
    if still_there(everyone):
        raise RuntimeError("a server that was killed lives on")
    # Where nobody takes note of its end its number stays taken, and the next server would believe it alive.
    for each in locks:
        each.unlink()

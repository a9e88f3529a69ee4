"""Files judged on a dask cluster, through its executor of `concurrent.futures`. Contents travel with the files."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import CancelledError, Executor, Future
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from rodtrue.archive.work import Outcome, Request, died, judge_here, judge_sent, versions
from rodtrue.archive.workers import AHEAD_PER_WORKER, WorkerDied, in_order
from rodtrue.bounded import MOST_DATA_BYTES, read_whole
from rodtrue.model.errors import FixtureError, InputError

ANSWER_WITHIN_S = 10


def judge_on_cluster(files: Iterable[str], request: Request, address: str) -> Iterator[Outcome]:
    """Judge files on the cluster whose scheduler listens at `address`, as `tcp://10.0.0.5:8786`.

    Raises: FixtureError where no scheduler answers, no worker is there, or a worker's versions differ.
    """
    with _connected(address) as client:
        workers = _checked_workers(client, address)

        pool, waiting = client.get_executor(), deque(files)

        def submit(executor: Executor, file: str) -> Future[Outcome]:
            try:
                content = read_whole(Path(file), MOST_DATA_BYTES)
            except OSError:
                done: Future[Outcome] = Future()
                done.set_result(judge_here(file, request))  # it says what is wrong with the file
                return done
            return executor.submit(judge_sent, file, content, request)

        while waiting:
            try:
                yield from in_order(pool, submit, waiting, workers * AHEAD_PER_WORKER, lost=_killed_worker())
            except WorkerDied as broken:
                # The scheduler has tried the oldest one on several workers already.
                yield died(broken.unfinished[0])
                waiting.extendleft(reversed(broken.unfinished[1:]))
            except (OSError, TimeoutError, CancelledError) as error:
                raise FixtureError(
                    f"cluster {address}: lost while judging ({type(error).__name__} {error})",
                    "See that it runs, then go on with --resume; what was written stands.",
                ) from error


def _killed_worker() -> type[Exception]:
    from distributed import KilledWorker

    return KilledWorker


@contextmanager
def _connected(address: str) -> Iterator[Any]:
    try:
        from distributed import Client
    except ModuleNotFoundError as error:
        raise InputError("--cluster needs dask, which is not installed", "pip install 'rodtrue[dask]'.") from error
    try:
        client = Client(address, timeout=ANSWER_WITHIN_S, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise FixtureError(
            f"cluster {address}: no scheduler answers there",
            "Start one: `dask scheduler`; its workers: `dask worker ADDRESS`, with the address it prints.",
        ) from error
    with client:
        yield client


def _checked_workers(client: Any, address: str) -> int:
    """Return how many workers there are, all of this version."""
    try:
        said = client.run(versions)
    except Exception as error:  # whatever keeps a worker from importing this package
        raise FixtureError(
            f"cluster {address}: a worker cannot run Rodtrue ({error})", "Install the same Rodtrue on every worker."
        ) from error
    if not said:
        raise FixtureError(f"cluster {address}: no worker is there", "Start some: dask worker ADDRESS.")
    mine = versions()
    for worker, theirs in said.items():
        different = [
            f"{name} {theirs.get(name)} instead of {mine[name]}" for name in mine if theirs.get(name) != mine[name]
        ]
        if different:
            raise FixtureError(
                f"cluster {address}: worker {worker} has {', '.join(different)}",
                "Results would depend on who judged: install the same versions on every worker.",
            )
    return len(said)

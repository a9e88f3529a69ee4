"""Many files through executors of `concurrent.futures`: results in the order of the files, memory bounded."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from multiprocessing import get_context

from rodtrue.archive.work import Outcome, Request, died, judge_here

AHEAD_PER_WORKER = 4
"""Files handed out before the oldest is done; enough to keep workers busy, few enough to hold."""

Submit = Callable[[Executor, str], "Future[Outcome]"]


def judge_in_processes(files: Iterable[str], request: Request, workers: int) -> Iterator[Outcome]:
    """Judge files in worker processes of this machine; one alone needs none.

    A worker that is killed takes nothing with it: what was in its hands is judged once more, file by file, and a
    file over which a worker dies again is refused by name.
    """
    if workers == 1:
        for file in files:
            yield judge_here(file, request)
        return
    waiting = deque(files)
    while waiting:
        suspects: list[str] = []
        with _pool(workers) as pool:
            try:
                yield from in_order(pool, _submit(request), waiting, workers * AHEAD_PER_WORKER)
            except WorkerDied as broken:
                suspects = broken.unfinished
        for file in suspects:
            yield _alone(file, request)


class WorkerDied(Exception):
    """A worker was killed; `unfinished` are the files handed out and not given back, in order."""

    def __init__(self, unfinished: list[str]) -> None:
        super().__init__(unfinished)
        self.unfinished = unfinished


def in_order(
    pool: Executor, submit: Submit, waiting: deque[str], ahead: int, lost: type[Exception] = BrokenExecutor
) -> Iterator[Outcome]:
    """Give outcomes in the order of the files, at most `ahead` of them in hand. Empties `waiting`."""
    in_hand: deque[tuple[str, Future[Outcome]]] = deque()
    while waiting or in_hand:
        try:
            while waiting and len(in_hand) < ahead:
                in_hand.append((waiting[0], submit(pool, waiting[0])))
                waiting.popleft()
            outcome = in_hand[0][1].result()
        except lost as error:
            raise WorkerDied([file for file, _ in in_hand]) from error
        in_hand.popleft()
        yield outcome


def _alone(file: str, request: Request) -> Outcome:
    with _pool(1) as pool:
        try:
            return pool.submit(judge_here, file, request).result()
        except BrokenExecutor:
            return died(file)


def _submit(request: Request) -> Submit:
    return lambda pool, file: pool.submit(judge_here, file, request)


def _pool(workers: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(workers, mp_context=get_context("spawn"))

"""Stand-ins for judging that kill their worker over one file. Here, because workers import them by name."""

from __future__ import annotations

import os
import signal

from rodtrue.archive import cluster, work

_judge_here, _judge_sent, _versions = work.judge_here, work.judge_sent, cluster.versions
OLDER = {"rodtrue": "0.0.9"}


def judge_here(file, request):
    """Judge, but die over run1."""
    _die_over_run1(file)
    return _judge_here(file, request)


def judge_sent(file, content, request):
    """Judge what was sent, but die over run1."""
    _die_over_run1(file)
    return _judge_sent(file, content, request)


def older_on_workers():
    """This version where `RODTRUE_TEST_ASKS` is set, which is in the asking process alone; an older one elsewhere."""
    return _versions() if os.environ.get("RODTRUE_TEST_ASKS") == str(os.getpid()) else {**_versions(), **OLDER}


def _die_over_run1(file):
    if file.endswith("run1.csv"):
        os.kill(os.getpid(), signal.SIGKILL)

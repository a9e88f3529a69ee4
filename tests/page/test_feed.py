"""What the live picture is sent, and when."""

from __future__ import annotations

from pathlib import Path

from rodtrue.page.feed import Cursor, Feed
from run.runs import bench


def test_ramp_hint_and_pace_are_sent_in_the_sweeps_and_not_before(tmp_path: Path) -> None:
    job, feed = bench(tmp_path), Feed()
    sent: dict[str, set[str]] = {}

    def look() -> None:
        feed.take(job.run)
        message = feed.since(Cursor())
        parts = {name for name in ("ramp", "onset", "hint", "pace") if message.get(name)}
        sent.setdefault(job.run.stage, set()).update(parts)

    job.play(until=lambda run: run.stage == "sweeps" and len(run.live.sweeps) == 2, each=look)
    pace = feed.since(Cursor())["pace"]
    job.run.close()
    assert sent.pop("sweeps") == {"ramp", "onset", "hint", "pace"}
    assert {"return", "zero", "rest"} <= set(sent) and not any(sent.values())
    assert pace["half"] == 3.0 and pace["top"] > 30.0 and pace["most"] > 0

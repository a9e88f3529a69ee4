"""What the records say of the run: whether the job is kept, and whether the fixture may have drifted."""

from __future__ import annotations

from rodtrue.page.elements import box, say
from rodtrue.page.history import CHECK_STANDARD
from rodtrue.page.screen import Screen, View
from rodtrue.page.shown import Shown


def _kept_seen(shown: Shown) -> object:
    return shown.kept


def _draw_kept(screen: Screen, shown: Shown) -> None:
    for line in shown.kept.splitlines():
        say(line, "rt-kept-line")


def _drift_seen(shown: Shown) -> object:
    return shown.phase, shown.drift, _is_check_standard(shown)


def _draw_drift(screen: Screen, shown: Shown) -> None:
    drift = shown.drift
    if drift is None or not drift.text:
        return
    if drift.alarm and not (_is_check_standard(shown) and shown.phase == "run"):
        with box("rt-alarm rt-alarm-warning"):
            say("LOOK HERE", "rt-alarm-word", "strong")
            say(drift.text, "rt-alarm-text")
    elif shown.phase in ("run", "over"):
        say(drift.text, "rt-soft")


def _is_check_standard(shown: Shown) -> bool:
    return shown.run is not None and shown.run.choice.tag == CHECK_STANDARD


KEPT = View(_kept_seen, _draw_kept)
DRIFT = View(_drift_seen, _draw_drift)

"""What has been said in the course of the run, newest first."""

from __future__ import annotations

from rodtrue.model.both_units import in_order
from rodtrue.page.elements import box, say
from rodtrue.page.screen import Screen, View
from rodtrue.page.shown import Shown, is_alarm
from rodtrue.run.live import Notice

MOST_SHOWN = 8
_SIGNS = {"stop": "STOP", "warning": "Warning", "note": "Note"}


def _seen(shown: Shown) -> object:
    return shown.units, *((0, ()) if shown.run is None else (len(shown.run.notices), shown.run.alarms))


def _draw(screen: Screen, shown: Shown) -> None:
    notices = shown.run.notices if shown.run else ()
    if not notices:
        return
    say("Said in this run", "rt-part-name", "h2")
    with box("rt-said-list", "ul"):
        for notice in reversed(notices[-MOST_SHOWN:]):
            kind, sign = _sign_of(notice, shown.run.alarms if shown.run else ())
            say(f"{sign}: {in_order(notice.text, shown.units)}", f"rt-finding rt-finding-{kind}", "li")


def _sign_of(notice: Notice, alarms: tuple[Notice, ...]) -> tuple[str, str]:
    """Return the look of a notice and its first word: an alarm that no longer stands alarms nobody any more."""
    if is_alarm(notice) and notice not in alarms:
        return "note", "Earlier"
    return notice.severity, _SIGNS[notice.severity]


SAID = View(_seen, _draw)

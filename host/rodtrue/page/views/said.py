"""What has been said in the course of the run, newest first."""

from __future__ import annotations

from rodtrue.model.both_units import in_order
from rodtrue.page.elements import box, say
from rodtrue.page.screen import Screen, View
from rodtrue.page.shown import Shown

MOST_SHOWN = 8
_SIGNS = {"stop": "STOP", "warning": "Warning", "note": "Note"}


def _seen(shown: Shown) -> object:
    return shown.units, 0 if shown.run is None else len(shown.run.notices)


def _draw(screen: Screen, shown: Shown) -> None:
    notices = shown.run.notices if shown.run else ()
    if not notices:
        return
    say("Said in this run", "rt-part-name", "h2")
    with box("rt-said-list", "ul"):
        for notice in reversed(notices[-MOST_SHOWN:]):
            words = f"{_SIGNS[notice.severity]}: {in_order(notice.text, shown.units)}"
            say(words, f"rt-finding rt-finding-{notice.severity}", "li")


SAID = View(_seen, _draw)

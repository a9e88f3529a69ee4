"""The run is over: what it left, and how to begin another."""

from __future__ import annotations

from rodtrue.page.elements import box, key, say
from rodtrue.page.files import file_links
from rodtrue.page.screen import Screen
from rodtrue.page.shown import RunShown, Shown
from rodtrue.run.prompts import Finished


def draw(screen: Screen, shown: Shown, run: RunShown) -> None:
    """Draw the end of the run."""
    text = run.prompt.text if isinstance(run.prompt, Finished) else ""
    asked = "The job is done." if text == "Done." else text
    say("Ended early" if run.stopped else "Done", "rt-stage-name")
    say(asked, "rt-asked", "h2", id="rt-asked", tabindex="-1")
    links = file_links(shown)
    if links:
        with box("rt-answers"):
            for words, address, main in links:
                say(words, f"rt-key {'rt-main-key' if main else 'rt-quiet'}", "a", href=address, target="_blank")
    if shown.files:
        say(f"Everything is kept in {run.folder}", "rt-soft rt-path")
    with box("rt-answers"):
        key("Another run", lambda: screen.do(screen.engine.end), "")

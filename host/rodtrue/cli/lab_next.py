"""`rodtrue lab next`: how far a planned study is, and the command for what is due, to be typed as it stands."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Annotated

import typer

from rodtrue.cli.lab_study import STUDY_FILTERS, Without
from rodtrue.cli.records_options import Place, filtered
from rodtrue.model.errors import InputError

if TYPE_CHECKING:
    from rodtrue.lab.plan import PlannedReading
    from rodtrue.records import RunFilter, Value

_WIDTH = 78
VIRTUAL_ROD_ERRORS_MM = (-3.0, 1.0)
"""Rod errors of the first and the last part of a virtual study; negative is short."""


@filtered(*STUDY_FILTERS)
def next_reading(
    wanted: RunFilter,
    file: Annotated[Path, typer.Argument(metavar="STUDY.csv", help="What `lab plan` wrote.")],
    characteristic: Annotated[str, typer.Option(metavar="NAME", help="What is studied.")] = "rod_error",
    without: Without = None,
    place: Place = None,
) -> None:
    """Say how far a planned study is, who measures which part now, and the command for it.

    The command measures as the study's newest kept run did: same profile, same drive, same reference.
    """
    from rodtrue.cli.lab_kept import kept_for_study, study_values
    from rodtrue.cli.lab_values import read_plan
    from rodtrue.cli.lab_words import order_lines
    from rodtrue.lab.kept_study import next_reading as due_in
    from rodtrue.lab.kept_study import out_of_order, refuse_too_many

    planned = read_plan(file)
    found = kept_for_study(characteristic, wanted, place, without or (), planned, may_be_none=True)
    values = study_values(found)
    refuse_too_many(values, planned, str(file))
    due = due_in(values, planned)
    typer.echo(f"{len(values)} of {len(planned)} readings are kept.")
    for line in order_lines(out_of_order(values, planned)):
        typer.echo(line)
    if due is None:
        typer.echo("All are taken:")
        words = ["rodtrue", "lab", "repeatability", str(file), "--characteristic", characteristic]
        words += [word for job in without or () for word in ("--without", str(job))]
        typer.echo(_typed([*words, *_chosen(wanted), *_kept_in(place)]))
        return
    _refuse_what_would_not_count(wanted)
    typer.echo(f"Next, number {due.order}: operator {due.operator} measures part {due.part}, trial {due.trial}.")
    typer.echo(_typed([*_check(due, wanted, found), *_drawn(due, planned, wanted, found), *_kept_in(place)]))
    if found and not _is_here(found[-1].profile):
        typer.echo(f"The profile {found[-1].profile} is not here: give the path of its file after --profile.")
    if wanted.fixture:
        typer.echo(f"On fixture {wanted.fixture}: a run on another one is not counted.")


def _check(due: PlannedReading, wanted: RunFilter, found: Sequence[Value]) -> list[str]:
    """Return the command that takes a reading; it measures as the newest run of the study did."""
    newest = found[-1] if found else None
    words = ["rodtrue", "check", "--operator", due.operator, "--unit", due.part]
    words += ["--tag", wanted.tag] if wanted.tag else []
    words += ["--port", "virtual"] if wanted.virtual else []
    profile = newest.profile if newest else _profile_named(wanted.profile)
    words += ["--profile", profile] if profile else []
    reference = newest.reference if newest else wanted.reference
    drive = newest.drive if newest else "bench" if reference == "lever_stop" else None
    words += ["--drive", drive] if drive else []
    return words + (["--reference", reference] if reference else [])


def _drawn(
    due: PlannedReading, planned: Sequence[PlannedReading], wanted: RunFilter, found: Sequence[Value]
) -> list[str]:
    """Return what makes a virtual part itself each time and unlike the others, its seed and, with rods, its error;
    and what makes each reading of it another one.

    Rod errors go evenly from the first part's to the last one's.
    """
    if not wanted.virtual:
        return []
    parts = sorted({reading.part for reading in planned}, key=lambda part: (len(part), part))
    place = parts.index(due.part)
    words = ["--seed", str(place + 1), "--reading", str(due.order)]
    if (found[-1].reference if found else wanted.reference) == "lever_stop":
        return words
    first_mm, last_mm = VIRTUAL_ROD_ERRORS_MM
    error_mm = first_mm + (last_mm - first_mm) * place / (len(parts) - 1)
    return [*words, "--rod-error", f"{error_mm:.2f}"]


def _profile_named(part: str | None) -> str | None:
    """Return the profile whose name a filter's text is a part of. Raises: InputError where it is not one alone."""
    from rodtrue.profiles import load_profile, shipped_profiles

    if part is None:
        return None
    fitting = [name for name in shipped_profiles() if part.lower() in name.lower()]
    if part in fitting or len(fitting) != 1:
        try:
            load_profile(part)
        except InputError as error:
            what = f"--profile {part}: names no profile to measure with"
            raise InputError(what, "Give a profile's whole name; one of your own as NAME.toml lies here.") from error
        return part
    return fitting[0]


def _is_here(profile: str) -> bool:
    """Whether `check` would find a profile by this name, here."""
    from rodtrue.profiles import profile_text

    try:
        profile_text(profile)
    except InputError:
        return False
    return True


def _refuse_what_would_not_count(wanted: RunFilter) -> None:
    now = datetime.now(UTC).isoformat(timespec="seconds")
    for option, amiss in (
        ("--since", wanted.since is not None and wanted.since > now),
        ("--until", wanted.until is not None and wanted.until <= now),
    ):
        if amiss:
            raise InputError(
                f"readings are due, and what is measured now would not be counted ({option})", "Leave it out."
            )


def _chosen(wanted: RunFilter) -> Iterator[str]:
    """Give a filter as the options that make it again."""
    for name in STUDY_FILTERS:
        said = getattr(wanted, name)
        if isinstance(said, bool):
            yield "--virtual" if said else "--real"
        elif said is not None:
            yield from (f"--{name}", said)


def _kept_in(place: str | None) -> list[str]:
    return [] if place is None else ["--records", place]


def _typed(words: Sequence[str]) -> str:
    """Return a command for the shell, broken where it is long, an option together with what it says."""
    lines, line = [], " "
    for place, word in enumerate(words):
        piece = quote(word)
        follows = quote(words[place + 1]) if word.startswith("--") and place + 1 < len(words) else ""
        if len(line) + len(piece) + len(follows) + 2 > _WIDTH and line.strip():
            lines.append(f"{line} \\")
            line = "   "
        line += f" {piece}"
    return "\n".join([*lines, line])

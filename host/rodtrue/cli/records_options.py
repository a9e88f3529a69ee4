"""Options that the records' commands share, and the filter they make."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from rodtrue.records import RunFilter


class VerdictWord(StrEnum):
    long = "long"
    short = "short"
    correct = "correct"
    undecided = "undecided"
    no_result = "no result"


Job = Annotated[int, typer.Argument(metavar="JOB", help="The job's number in `records list`.")]
Json = Annotated[bool, typer.Option("--json", help="One JSON document a line.")]
Place = Annotated[
    str | None, typer.Option("--records", metavar="FILE|URL", help="A file, or postgresql://...; default: your own.")
]
Since = Annotated[str | None, typer.Option(metavar="DATE", help="From this day on, 2026-10-31 or with a time.")]
Until = Annotated[str | None, typer.Option(metavar="DATE", help="Up to the end of this day, or this time.")]
Unit = Annotated[str | None, typer.Option(help="Part of the unit's name.")]
Customer = Annotated[str | None, typer.Option(help="Part of the customer's name.")]
Profile = Annotated[str | None, typer.Option(help="Part of the profile's name.")]
Verdict = Annotated[VerdictWord | None, typer.Option(help="Only this verdict.")]
Fixture = Annotated[str | None, typer.Option(help="The fixture's unique number.")]
Tag = Annotated[str | None, typer.Option(help="What the job was kept for.")]
Virtual = Annotated[bool | None, typer.Option("--virtual/--real", help="Virtual runs alone, or none of them.")]
Limit = Annotated[int, typer.Option(min=1, help="At most so many.")]


def filter_of(
    since: str | None,
    until: str | None,
    unit: str | None,
    customer: str | None,
    profile: str | None,
    verdict: VerdictWord | None,
    fixture: str | None,
    tag: str | None,
    virtual: bool | None,
    limit: int | None,
) -> RunFilter:
    """Return the filter; days and times are this machine's. Raises: InputError for what is no date."""
    from rodtrue.records import RunFilter

    return RunFilter(
        since=_utc(since, "--since", end_of_day=False),
        until=_utc(until, "--until", end_of_day=True),
        unit=unit,
        customer=customer,
        profile=profile,
        verdict=None if verdict is None else verdict.value,
        fixture=fixture,
        tag=tag,
        virtual=virtual,
        limit=limit,
    )


def _utc(text: str | None, option: str, *, end_of_day: bool) -> str | None:
    from rodtrue.model.errors import InputError

    if text is None:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise InputError(f"{option} {text}: no date", "Give a day as 2026-10-31, or 2026-10-31T14:30.") from error
    if end_of_day and len(text) == len("2026-10-31"):
        moment += timedelta(days=1)
    return moment.astimezone(UTC).isoformat(timespec="seconds")

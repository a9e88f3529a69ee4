"""Options that the records' commands share, and the filter they make."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rodtrue.cli.gathered import gathered
from rodtrue.cli.options import ReferenceWord

if TYPE_CHECKING:
    from rodtrue.records import RunFilter


class VerdictWord(StrEnum):
    long = "long"
    short = "short"
    correct = "correct"
    undecided = "undecided"
    no_result = "no result"


class BodyWord(StrEnum):
    conforming = "conforming"
    nonconforming = "nonconforming"
    undecided = "undecided"


class StateWord(StrEnum):
    as_found = "as-found"
    as_left = "as-left"


Job = Annotated[int, typer.Argument(metavar="JOB", help="The job's number in `records list`.")]
Json = Annotated[bool, typer.Option("--json", help="One JSON document a line.")]
Place = Annotated[
    str | None, typer.Option("--records", metavar="FILE|URL", help="A file, or postgresql://...; default: your own.")
]
Since = Annotated[str | None, typer.Option(metavar="DATE", help="From this day on, 2026-10-31 or with a time.")]
Until = Annotated[str | None, typer.Option(metavar="DATE", help="Up to the end of this day, or this time.")]
Unit = Annotated[str | None, typer.Option(help="Part of the unit's name, or of the valve body's serial number.")]
Serial = Annotated[str | None, typer.Option(help="Part of the valve body's serial number.")]
Operator = Annotated[str | None, typer.Option(help="Part of the name of who measured.")]
Customer = Annotated[str | None, typer.Option(help="Part of the customer's name.")]
Profile = Annotated[str | None, typer.Option(help="Part of the profile's name.")]
Verdict = Annotated[VerdictWord | None, typer.Option(help="Only this verdict on the rod.")]
BodyVerdict = Annotated[BodyWord | None, typer.Option(help="Only this verdict on the valve body.")]
Reference = Annotated[
    ReferenceWord | None, typer.Option(help="lever_stop: valve bodies alone; curb_idle: units with their rods.")
]
State = Annotated[StateWord, typer.Option(help="As units came; or as they left: a job's last run, adjusted or not.")]
Fixture = Annotated[str | None, typer.Option(help="The fixture's unique number.")]
Tag = Annotated[str | None, typer.Option(help="What the job was kept for.")]
Virtual = Annotated[bool | None, typer.Option("--virtual/--real", help="Virtual runs alone, or none of them.")]
Limit = Annotated[int, typer.Option(min=1, help="At most so many.")]


_FILTERS: dict[str, tuple[Any, Any]] = {
    "since": (Since, None),
    "until": (Until, None),
    "unit": (Unit, None),
    "serial": (Serial, None),
    "operator": (Operator, None),
    "customer": (Customer, None),
    "profile": (Profile, None),
    "verdict": (Verdict, None),
    "body_verdict": (BodyVerdict, None),
    "reference": (Reference, None),
    "fixture": (Fixture, None),
    "tag": (Tag, None),
    "virtual": (Virtual, None),
    "state": (State, StateWord.as_found),
    "limit": (Limit, 40),
}
"""Options that narrow runs down: annotation and default, in the order in which `--help` lists them."""

EVERY_FILTER = tuple(name for name in _FILTERS if name not in ("state", "limit"))
_ROLES = {StateWord.as_found: "as_found", StateWord.as_left: "last"}


def filtered(*names: str) -> Callable[..., Callable[..., None]]:
    """Give a command these filter options; it gets what they say as one `wanted: RunFilter`."""
    return gathered("wanted", {name: option for name, option in _FILTERS.items() if name in names}, filter_of)


def filter_of(
    since: str | None = None, until: str | None = None, state: StateWord | None = None, **others: Any
) -> RunFilter:
    """Return the filter; days and times are this machine's. Raises: InputError for what is no date."""
    from rodtrue.model.errors import InputError
    from rodtrue.records import RunFilter

    begin, end = _utc(since, "--since", end_of_day=False), _utc(until, "--until", end_of_day=True)
    if begin is not None and end is not None and begin >= end:
        raise InputError(f"--since {since} is not before --until {until}", "Turn them round.")
    plain: dict[str, Any] = {name: said.value if isinstance(said, StrEnum) else said for name, said in others.items()}
    return RunFilter(since=begin, until=end, role=None if state is None else _ROLES[state], **plain)


def _utc(text: str | None, option: str, *, end_of_day: bool) -> str | None:
    from rodtrue.model.errors import InputError

    if text is None:
        return None
    try:
        moment = datetime.fromisoformat(text)
        if end_of_day and len(text) == len("2026-10-31"):
            moment += timedelta(days=1)
        return moment.astimezone(UTC).isoformat(timespec="seconds")
    except (ValueError, OverflowError) as error:  # a day at either end of the calendar is none in another zone
        raise InputError(f"{option} {text}: no date", "Give a day as 2026-10-31, or 2026-10-31T14:30.") from error

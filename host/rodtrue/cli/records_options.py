"""Options that the records' commands share, and the filter they make."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from functools import wraps
from inspect import Parameter, Signature, signature
from typing import TYPE_CHECKING, Annotated, Any, get_type_hints

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


_FILTERS: dict[str, tuple[Any, Any]] = {
    "since": (Since, None),
    "until": (Until, None),
    "unit": (Unit, None),
    "customer": (Customer, None),
    "profile": (Profile, None),
    "verdict": (Verdict, None),
    "fixture": (Fixture, None),
    "tag": (Tag, None),
    "virtual": (Virtual, None),
    "limit": (Limit, 40),
}
"""Options that narrow runs down: annotation and default, in the order in which `--help` lists them."""

EVERY_FILTER = tuple(name for name in _FILTERS if name != "limit")


def filtered(*names: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command these filter options; it gets what they say as one `wanted: RunFilter`."""

    def decorate(command: Callable[..., None]) -> Callable[..., None]:
        @wraps(command)
        def narrowed(**given: Any) -> None:
            chosen = {name: given.pop(name) for name in names}
            command(wanted=filter_of(**chosen), **given)

        hints = get_type_hints(command, localns={"RunFilter": object}, include_extras=True)
        own = [each for name, each in signature(command).parameters.items() if name != "wanted"]
        options = [
            Parameter(name, Parameter.KEYWORD_ONLY, default=default, annotation=annotation)
            for name, (annotation, default) in _FILTERS.items()
            if name in names
        ]
        shown = [each.replace(annotation=hints[each.name], kind=Parameter.KEYWORD_ONLY) for each in own] + options
        narrowed.__signature__ = Signature(shown)  # type: ignore[attr-defined]
        narrowed.__annotations__ = {each.name: each.annotation for each in shown}
        del narrowed.__wrapped__
        return narrowed

    return decorate


def filter_of(
    since: str | None = None, until: str | None = None, verdict: VerdictWord | None = None, **others: Any
) -> RunFilter:
    """Return the filter; days and times are this machine's. Raises: InputError for what is no date."""
    from rodtrue.model.errors import InputError
    from rodtrue.records import RunFilter

    begin, end = _utc(since, "--since", end_of_day=False), _utc(until, "--until", end_of_day=True)
    if begin is not None and end is not None and begin >= end:
        raise InputError(f"--since {since} is not before --until {until}", "Turn them round.")
    return RunFilter(since=begin, until=end, verdict=None if verdict is None else verdict.value, **others)


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

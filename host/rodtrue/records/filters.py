"""Which runs: what a person can ask for, as conditions of a query."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import Select

from rodtrue.records.tables import jobs, runs


@dataclass(frozen=True)
class RunFilter:
    """None or empty leaves that out. Text is found anywhere in the field, whatever its case.

    since, until: ISO times in UTC, as results have them; from the first, up to but without the second.
    role: `as_found` or `as_left`. virtual: None for all, True for virtual runs alone, False for none of them.
    newest_first: order by time.
    """

    since: str | None = None
    until: str | None = None
    unit: str | None = None
    customer: str | None = None
    profile: str | None = None
    verdict: str | None = None
    fixture: str | None = None
    tag: str | None = None
    job: int | None = None
    role: str | None = None
    virtual: bool | None = None
    limit: int | None = None
    newest_first: bool = True


def narrowed(query: Select[Any], wanted: RunFilter) -> Select[Any]:
    """Return the query of runs joined with jobs, with the filter's conditions, order and limit."""
    if wanted.since:
        query = query.where(runs.c.taken_at >= wanted.since)
    if wanted.until:
        query = query.where(runs.c.taken_at < wanted.until)
    for column, text in (
        (runs.c.unit, wanted.unit),
        (jobs.c.customer, wanted.customer),
        (runs.c.profile, wanted.profile),
    ):
        if text:
            query = query.where(column.icontains(text, autoescape=True))
    if wanted.verdict:
        query = query.where(runs.c.verdict == wanted.verdict)
    if wanted.fixture:
        query = query.where(runs.c.fixture_id == wanted.fixture)
    if wanted.tag:
        query = query.where(jobs.c.tag == wanted.tag)
    if wanted.job is not None:
        query = query.where(runs.c.job_id == wanted.job)
    if wanted.role:
        query = query.where(runs.c.role == wanted.role)
    if wanted.virtual is not None:
        is_virtual = runs.c.fixture_kind == "virtual"
        query = query.where(is_virtual if wanted.virtual else ~is_virtual)
    order = (runs.c.taken_at.desc(), runs.c.id.desc()) if wanted.newest_first else (runs.c.taken_at, runs.c.id)
    query = query.order_by(*order)
    return query if wanted.limit is None else query.limit(wanted.limit)

"""Which runs: what a person can ask for, as conditions of a query."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Select, exists, or_

from rodtrue.records.tables import jobs, runs


@dataclass(frozen=True)
class RunFilter:
    """None or empty leaves that out. Text is found anywhere in the field, whatever its case; a unit's also in the
    valve body's serial number.

    since, until: ISO times in UTC, as results have them; from the first, up to but without the second.
    role: `as_found`, `as_left`, or `last`: each job's as-left run, its as-found one where nothing was put right.
    not_tag: leaves out jobs kept with this tag. virtual: None for all, True for virtual runs alone, False for none.
    newest_first: order by time.
    """

    since: str | None = None
    until: str | None = None
    unit: str | None = None
    serial: str | None = None
    operator: str | None = None
    customer: str | None = None
    profile: str | None = None
    verdict: str | None = None
    body_verdict: str | None = None
    reference: str | None = None
    fixture: str | None = None
    tag: str | None = None
    not_tag: str | None = None
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
    if wanted.unit:
        named = (runs.c.unit, jobs.c.valve_body_serial)
        query = query.where(or_(*(column.icontains(wanted.unit, autoescape=True) for column in named)))
    for column, text in (
        (jobs.c.valve_body_serial, wanted.serial),
        (runs.c.operator, wanted.operator),
        (jobs.c.customer, wanted.customer),
        (runs.c.profile, wanted.profile),
    ):
        if text:
            query = query.where(column.icontains(text, autoescape=True))
    for column, word in (
        (runs.c.verdict, wanted.verdict),
        (runs.c.body_verdict, wanted.body_verdict),
        (runs.c.reference, wanted.reference),
        (runs.c.fixture_id, wanted.fixture),
        (jobs.c.tag, wanted.tag),
    ):
        if word:
            query = query.where(column == word)
    if wanted.not_tag:
        query = query.where(jobs.c.tag.is_distinct_from(wanted.not_tag))
    if wanted.job is not None:
        query = query.where(runs.c.job_id == wanted.job)
    if wanted.role == "last":
        query = query.where((runs.c.role == "as_left") | ~_has_as_left())
    elif wanted.role:
        query = query.where(runs.c.role == wanted.role)
    if wanted.virtual is not None:
        is_virtual = runs.c.fixture_kind == "virtual"
        query = query.where(is_virtual if wanted.virtual else ~is_virtual)
    order = (runs.c.taken_at.desc(), runs.c.id.desc()) if wanted.newest_first else (runs.c.taken_at, runs.c.id)
    query = query.order_by(*order)
    return query if wanted.limit is None else query.limit(wanted.limit)


def _has_as_left() -> ColumnElement[bool]:
    """Whether the job of a run has an as-left run."""
    left = runs.alias()
    return exists().where(left.c.job_id == runs.c.job_id, left.c.role == "as_left")

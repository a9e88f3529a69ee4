"""What a run on the page leaves behind: the job, and its report as soon as there is a result."""

from __future__ import annotations

from pathlib import Path

from rodtrue.model.result import JOB_SCHEMA, Job
from rodtrue.page.choice import Choice
from rodtrue.run.guided import GuidedRun
from rodtrue.run.job import write_job
from rodtrue.run.words import Units


def job_of(run: GuidedRun, choice: Choice) -> Job | None:
    """Return the job as it stands, None before there is a result."""
    as_found = run.results.get("as-found")
    if as_found is None:
        return None
    return Job(
        JOB_SCHEMA,
        as_found,
        run.results.get("as-left"),
        customer=choice.customer,
        reference=choice.reference,
        notes=choice.notes,
    )


def write_outcome(run: GuidedRun, choice: Choice, units: Units) -> dict[str, Path]:
    """Write the job into the run's folder and return all its files, by what they are.

    Raises: InputError where nothing can be written.
    """
    files = {f"capture, {label}": path for label, path in run.captures.items()}
    job = job_of(run, choice)
    if job is None:
        return files
    return {"job": write_job(run.settings.folder, job), **files}

"""What a run on the page leaves behind: the job's file as soon as there is a result, and the job for the records."""

from __future__ import annotations

from pathlib import Path

from rodtrue.model.result import JOB_SCHEMA, Job
from rodtrue.page.choice import Choice
from rodtrue.run.guided import GuidedRun
from rodtrue.run.job import write_job


class Outcome:
    """What one run leaves. files: what is written so far, by what it is."""

    def __init__(self, run: GuidedRun, choice: Choice) -> None:
        self._run = run
        self._choice = choice
        self._written = 0
        self._handed_over = False
        self.files: dict[str, Path] = {}

    def write(self) -> bool:
        """Write the job anew where a result has come or become final since; say whether that was so.

        Raises: InputError where nothing can be written.
        """
        judged = hash(tuple(id(result) for result in self._run.results.values()))
        job = self._job()
        if job is None or judged == self._written:
            return False
        self._written = judged
        written = write_job(self._run.settings.folder, job)
        self.files = {"job": written, **{f"capture, {label}": path for label, path in self._run.captures.items()}}
        return True

    def hand_over(self) -> tuple[Job, Path] | None:
        """Return the job and its file for the records, once; None without one, and for an exercise."""
        job, file = self._job(), self.files.get("job")
        if self._handed_over or job is None or file is None or self._choice.virtual.hidden:
            return None
        self._handed_over = True
        return job, file

    def _job(self) -> Job | None:
        """Return the job as it stands, None before there is a result."""
        as_found = self._run.results.get("as-found")
        if as_found is None:
            return None
        choice = self._choice
        return Job(
            JOB_SCHEMA,
            as_found,
            self._run.results.get("as-left"),
            customer=choice.customer,
            reference=choice.reference,
            notes=choice.notes,
        )

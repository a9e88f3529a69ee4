"""What ISO/IEC 17025:2017, clause 7.8, asks of a report and this one does not say; the clause from memory."""

from __future__ import annotations

from rodtrue.model.result import Job, Result


def not_stated(job: Job, results: list[Result]) -> str:
    """Return a sentence that names it, so that nobody has to find out what is missing."""
    fittings = [item for result in results for item in result.checked if item["item"] == "port_and_adapter"]
    missing = {
        "the laboratory's name and address": job.laboratory is None,
        "the customer": job.customer is None,
        "who measured": any(result.operator is None for result in results),
        "the unit": any(result.unit is None for result in results),
        "when it was measured": any(result.taken_at is None for result in results),
        "port, adapter and hose": not fittings,
        "the place, where it was not the laboratory": True,
        "air temperature and other surroundings": True,
        "metrological traceability, as no calibration is recorded": any(
            result.fixture.calibration is None for result in results
        ),
    }
    virtual = any(result.fixture.kind == "virtual" for result in results)
    said = "Not stated here: " + "; ".join(name for name, is_missing in missing.items() if is_missing) + "."
    if not virtual:
        return said
    return (
        f"{said} A virtual fixture measures nothing, so there is no date of issue and nobody who authorises the "
        "report; its uncertainty is that of a fixture of the same parts."
    )

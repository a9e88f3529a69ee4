"""`rodtrue lab batch`: a batch of valve bodies out of the kept runs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from rodtrue.cli.lab_options import Telling, told
from rodtrue.cli.records_options import Place, filtered
from rodtrue.lab.quantity import Shown

if TYPE_CHECKING:
    from rodtrue.cli.lab_kept import BodyValues
    from rodtrue.records import RunFilter

BODY_FILTERS = ("since", "until", "profile", "reference", "fixture", "tag", "virtual", "state")


@told("report")
@filtered(*BODY_FILTERS)
def batch(wanted: RunFilter, telling: Telling, place: Place = None) -> None:
    """Report a batch of rebuilt valve bodies from the kept runs: each body, then each characteristic that has limits.

    One run a job, as found unless --state says as left, without the check standard's unless --tag asks for them.
    """
    from rodtrue.cli.lab_kept import batch_of, of_bodies
    from rodtrue.cli.lab_words import batch_lines
    from rodtrue.lab.capability import LEAST_VALUES
    from rodtrue.lab.capability import capability as judge_capability
    from rodtrue.model.errors import InputError
    from rodtrue.report.lab_batch import batch_report
    from rodtrue.report.lab_figures import BatchRow

    found = batch_of(of_bodies(wanted), place)
    judged, why_not = [], []
    shown = Shown(None, telling.first, virtual=wanted.virtual is True)
    few = [each for each in found.measured if len(each.values) < LEAST_VALUES]
    for each in found.measured:
        if each in few:
            continue
        try:
            capable = judge_capability(each.values, each.lower, each.upper)
        except InputError as error:  # one characteristic that never moves must not cost the others their report
            why_not.append((each.name, error.message))
        else:
            judged.append(BatchRow(each.name, each.values, capable, replace(shown, unit=each.unit)))
    remarks = found.kept.remarks + _not_computed(found.measured, few)
    about = found.kept.about + [("Not judged", f"{name}: {why}") for name, why in why_not]
    telling.tell(
        {
            "kept_runs": found.kept,
            "bodies": found.bodies,
            "characteristics": [
                {"name": row.name, "unit": row.shown.unit, "capability": row.found} for row in judged
            ],
            "not_judged": [{"name": name, "why": why} for name, why in why_not]
            + [{"name": each.name, "why": _too_few(each)} for each in few],
        },
        lambda: batch_lines(found.kept, found.bodies, judged, why_not, remarks, telling.first),
        pages=lambda: batch_report("Batch of valve bodies", judged, about, remarks, shown, found.bodies),
    )


def _not_computed(measured: Sequence[BodyValues], few: Sequence[BodyValues]) -> list[str]:
    """What to say of characteristics with too few values, and where none has limits."""
    from rodtrue.lab.capability import LEAST_VALUES

    if not measured:
        return ["No characteristic has limits in these runs, so nothing was held against any."]
    if not few:
        return []
    counts = ", ".join(f"{each.name} ({len(each.values)})" for each in few)
    return [
        f"Capability indices and the normality check need at least {LEAST_VALUES} values of a characteristic and "
        f"were not computed for: {counts}."
    ]


def _too_few(each: BodyValues) -> str:
    from rodtrue.lab.capability import LEAST_VALUES

    count = len(each.values)
    return f"{count} value{'s' * (count != 1)}; capability indices and the normality check need {LEAST_VALUES}"

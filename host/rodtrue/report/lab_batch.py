"""The report of a batch of valve bodies: each body as it was measured, then how each characteristic spreads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rodtrue.lab.quantity import Shown
from rodtrue.model.both_units import Units
from rodtrue.model.result import Characteristic
from rodtrue.report.lab_figures import BatchRow, as_svg, capability_figure
from rodtrue.report.lab_report import LabReport, Section
from rodtrue.report.shown import characteristic_texts, moment, own_words
from rodtrue.run.words import BODY_WORDS


@dataclass(frozen=True)
class BatchBody:
    """One body of a batch: who measured it when, the verdicts on rod and body, its characteristics in their order."""

    job: int
    valve_body_serial: str | None
    unit: str | None
    operator: str | None
    taken_at: str | None
    verdict: str
    body_verdict: str | None
    characteristics: list[Characteristic]

    @property
    def named(self) -> str:
        """Its serial number, or that there is none, its unit and its job."""
        serial = f"serial {self.valve_body_serial}" if self.valve_body_serial else "no serial number kept"
        return f"{serial}, unit {self.unit}, job {self.job}" if self.unit else f"{serial}, job {self.job}"


def batch_report(
    title: str,
    batch: Sequence[BatchRow],
    about: Sequence[tuple[str, str]],
    remarks: Sequence[str],
    shown: Shown,
    bodies: Sequence[BatchBody] = (),
) -> LabReport:
    """The report of a batch, or of one characteristic; remarks: what to mind of the runs; bodies: each on its own."""
    sections = [Section("Summary", _summary(batch) if batch else [], list(remarks))] if batch or remarks else []
    sections += [_body(number, body, shown.first) for number, body in enumerate(bodies, start=1)]
    for row in batch:
        found = row.found
        rows = [["index", "value", f"{100 * found.confidence:g} % interval"]]
        for label, index, limits in (
            ("Cp, spread within", found.cp, found.cp_interval),
            ("Cpk", found.cpk, found.cpk_interval),
            ("Pp, spread overall", found.pp, found.pp_interval),
            ("Ppk", found.ppk, found.ppk_interval),
        ):
            if index is not None and limits is not None:
                rows.append([label, f"{index:.2f}", f"{limits[0]:.2f} to {limits[1]:.2f}"])
        picture = as_svg(capability_figure(row))
        says = f"Histogram and normal plot of {row.name}"
        sections.append(Section(row.name, rows, found.remarks, picture, says))
    return LabReport(title, list(about), sections, shown)


def _body(number: int, body: BatchBody, first: Units) -> Section:
    """A body as it was measured: each characteristic in either unit system, its limits, what was decided."""
    other: Units = "metric" if first == "inch" else "inch"
    systems = {"inch": "psi and inches", "metric": "kPa and mm"}
    rows = [["characteristic", systems[first], "limits", systems[other], "limits", "decision"]]
    for each in body.characteristics:
        texts = characteristic_texts(each, first)
        rows.append([texts[name] for name in ("name", "first", "limits", "other", "limits_other", "decision")])
    said = f"Taken {moment(body.taken_at)}, operator {own_words(body.operator, 40)}"
    heading = f"{number}. {own_words(body.named, 120)}: {BODY_WORDS[body.body_verdict]}"
    return Section(heading, rows, [said])


def _summary(batch: Sequence[BatchRow]) -> list[list[str]]:
    """A row a characteristic, numbers in either unit one above the other."""
    rows = [["characteristic", "n", "mean", "sd overall", "lower limit", "upper limit", "outside", "Ppk", "normal?"]]
    for row in batch:
        found = row.found
        doubt = found.normality_p is not None and found.normality_p < 0.05
        rows.append(
            [
                row.name,
                str(found.n),
                row.shown.value(found.mean, spread=found.overall_sd).stacked,
                row.shown.spread(found.overall_sd).stacked,
                "-" if found.lower is None else row.shown.given(found.lower).stacked,
                "-" if found.upper is None else row.shown.given(found.upper).stacked,
                str(found.outside),
                f"{found.ppk:.2f}",
                f"doubtful, p = {found.normality_p:.2g}" if doubt else "no doubt",
            ]
        )
    return rows

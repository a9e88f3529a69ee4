"""The result of judging one capture once: plain records, serialised as `rodtrue.result/1`.

Null (None) means not determined; the reason stands in `reason`, in a finding, or in `why_not`.
Signs: `rod_error_mm` positive is long, negative is short, as an equivalent at the driving end.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

from rodtrue.model.profile import Layout
from rodtrue.model.shifts import ShiftEffect

Verdict = Literal["long", "short", "correct", "undecided", "no result"]
Severity = Literal["note", "warning", "stop"]
Decision = Literal["within", "above", "below", "undecided", "not judged"]
Interval = tuple[float, float]


@dataclass(frozen=True)
class Statistical:
    """The part of the uncertainty that more sweeps can shrink."""

    standard_uncertainty_mm: float
    degrees_of_freedom: float
    interval_mm: Interval


@dataclass(frozen=True)
class RodError:
    """The rod's error with its uncertainty, or only a bound (`at_most_mm`) where the knee was not reached."""

    value_mm: float | None
    limits_mm: Interval
    expanded_uncertainty_mm: float | None = None
    standard_uncertainty_mm: float | None = None
    coverage_factor: float | None = None
    coverage_probability: float | None = None
    degrees_of_freedom: float | None = None
    interval_mm: Interval | None = None
    at_most_mm: float | None = None
    statistical: Statistical | None = None


@dataclass(frozen=True)
class Probability:
    """Probabilities of the three states; they inform and never decide. They sum to 1."""

    long: float
    short: float
    correct: float


@dataclass(frozen=True)
class Settle:
    """What would decide an undecided run.

    possible: whether more sweeps can decide it at all (decided with the statistical part at zero).
    sweeps: further sweeps needed, None where unknown or not possible.
    limiting_row: the budget row that contributes most.
    """

    possible: bool
    sweeps: int | None
    limiting_row: str | None


@dataclass(frozen=True)
class Characteristic:
    """One quantity with a value, an expanded uncertainty and limits."""

    name: str
    value: float | None
    unit: str
    expanded_uncertainty: float | None
    limits: tuple[float | None, float | None]
    decision: Decision


@dataclass(frozen=True)
class Stroke:
    """One opening or closing, and why it was not used if it was not."""

    direction: Literal["opening", "closing"]
    speed_mm_per_s: float
    onset_mm: float | None
    used: bool
    why_not: str | None


@dataclass(frozen=True)
class Correction:
    """What to turn. `at_least_mm` stands where only a bound is known; turns need a threaded adjuster."""

    direction: Literal["lengthen", "shorten", "none"]
    amount_mm: float | None
    turns: float | None = None
    where: str = ""
    steps: list[dict[str, Any]] = field(default_factory=list)
    at_least_mm: float | None = None


@dataclass(frozen=True)
class BudgetRow:
    """One contribution to the uncertainty of the rod error.

    standard_uncertainty_mm = half_width / divisor x sensitivity, in mm at the driving end.
    """

    name: str
    half_width: float
    unit: str
    distribution: Literal["normal", "rectangular", "t"]
    divisor: float
    sensitivity: float
    standard_uncertainty_mm: float
    degrees_of_freedom: float | None
    note: str = ""


@dataclass(frozen=True)
class Finding:
    """Something else the data show. Codes and wording live in one table, `shared/findings.json`."""

    code: str
    severity: Severity
    text: str
    evidence: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Plot:
    """What a front end draws: the thinned samples and the fitted line's corner points."""

    travel_mm: list[float] = field(default_factory=list)
    pressure_kpa: list[float] = field(default_factory=list)
    direction: list[str] = field(default_factory=list)
    fit: list[dict[str, Any]] = field(default_factory=list)


@dataclass(frozen=True)
class Fixture:
    """What delivered the samples, as it said of itself."""

    kind: Literal["board", "virtual", "csv"]
    interpreter: str | None = None
    identity: dict[str, Any] | None = None
    calibration: dict[str, Any] | None = None


@dataclass(frozen=True)
class ProfileDetails:
    """What a result still says of its profile when that is no longer at hand: title, note, and the linkage."""

    title: str
    invented: bool
    layout: Layout
    action: Literal["push", "pull"] = "push"
    note: str = ""


@dataclass(frozen=True)
class CaptureRef:
    """The file that was judged and its SHA-256."""

    path: str | None
    sha256: str | None


@dataclass(frozen=True)
class Judgement:
    """What analysis says of the samples alone: everything in a result but who, when and which file."""

    verdict: Verdict
    reason: str | None
    body_verdict: Literal["conforming", "nonconforming", "undecided"] | None
    rod_error: RodError | None
    probability: Probability | None
    settle: Settle | None
    lever_start_mm: float | None
    opening_onset_mm: float | None
    closing_onset_mm: float | None
    friction_mm: float | None
    lag_s: float | None
    characteristics: list[Characteristic]
    strokes: list[Stroke]
    correction: Correction | None
    plot: Plot
    budget: list[BudgetRow]
    findings: list[Finding]


@dataclass(frozen=True)
class Result:
    """One capture judged once, as written, stored and reported.

    expected_effect: what the rod's error does to the shifts; None where there is no error to tell or the
    profile has no shift data. profile_details: None in results written before there was this field.
    checked: what was answered before the run, in order: `checklist`, `item`, its `text`, the `answer` and
    `answered_at`; empty where nothing was asked. adjusted: what was done to the rod before this run, as the
    operator said it (`moved`), and how far was advised (`advised_mm`, null where no amount was); None where nothing.
    """

    schema: str
    file: str | None
    profile: str
    fixture: Fixture
    taken_at: str | None
    operator: str | None
    unit: str | None
    capture: CaptureRef
    versions: dict[str, str]
    drive: str | None
    reference: str
    rod_unhooked: bool | None
    verdict: Verdict
    reason: str | None
    body_verdict: str | None
    rod_error: RodError | None
    probability: Probability | None
    settle: Settle | None
    lever_start_mm: float | None
    opening_onset_mm: float | None
    closing_onset_mm: float | None
    friction_mm: float | None
    lag_s: float | None
    characteristics: list[Characteristic]
    strokes: list[Stroke]
    correction: Correction | None
    plot: Plot
    budget: list[BudgetRow]
    findings: list[Finding]
    cautions: list[dict[str, str]]
    expected_effect: ShiftEffect | None = None
    profile_details: ProfileDetails | None = None
    checked: list[dict[str, str]] = field(default_factory=list)
    adjusted: dict[str, Any] | None = None


RESULT_SCHEMA = "rodtrue.result/1"
JOB_SCHEMA = "rodtrue.job/1"
ERROR_SCHEMA = "rodtrue.error/1"


@dataclass(frozen=True)
class Job:
    """The as-found and as-left runs of one unit, and what people say of it beside the measurement.

    customer, laboratory: names and addresses. reference: the customer's or the shop's number of the order.
    notes: anything else. All of them free text, None where nobody said.
    """

    schema: str
    as_found: Result
    as_left: Result | None = None
    customer: str | None = None
    laboratory: str | None = None
    reference: str | None = None
    notes: str | None = None

"""From samples to a judgement: the one way through the analysis. Pure: values in, values out.

The order: what the run stands on (zero, baseline, response, rests), strokes, the ramp of all strokes
together, the lever start with its budget, the decision, and what forbids a word.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rodtrue.analysis import body, correction
from rodtrue.analysis.budget import (
    UNKNOWN_FRICTION_MM,
    combine,
    expanded,
    travel_rows,
)
from rodtrue.analysis.decision import (
    ONE_LOOK,
    TWO_LOOKS,
    decide,
    look_by_plan,
    probabilities,
    settle,
)
from rodtrue.analysis.estimate import Estimate, estimate
from rodtrue.analysis.findings import Findings, FindingTable
from rodtrue.analysis.halfway import find_halfway
from rodtrue.analysis.knots import plateau_kpa
from rodtrue.analysis.plot import plot_of
from rodtrue.analysis.ramp import DIRECTIONS, Ramp, StrokeData, fit_ramp, locate_ramps, pooled_bins
from rodtrue.analysis.reference import (
    Baseline,
    Rests,
    after_adjustment,
    find_baseline,
    find_rests,
    find_zero,
    shows_response,
    with_sweeps,
)
from rodtrue.analysis.refusals import (
    falls_as_travel_rises,
    noticeable_kpa,
    refuse_flat,
    refuse_samples,
    refuse_standing,
    refuse_travel,
    rises,
)
from rodtrue.analysis.strokes import Section, Span, cut_sections, find_strokes
from rodtrue.analysis.watch import (
    watch_binding,
    watch_fixture,
    watch_ramp,
    watch_response,
    watch_rests,
    watch_samples,
    watch_sensor,
)
from rodtrue.model.conditions import Conditions
from rodtrue.model.profile import Profile
from rodtrue.model.result import Judgement, Plot, RodError, Stroke, Verdict
from rodtrue.model.samples import Samples

WORDS = ("long", "short", "correct")
ON_STOP_MM = 1.5
"""Friction and lag can hold the pressure flat for less than this where an opening begins on the ramp."""
STRADDLES = "the interval straddles a limit"
BINDS = "something binds: opening and closing are too far apart"


@dataclass(frozen=True)
class Run:
    """A run made ready: what it stands on and its strokes, cut once and looked at once or twice."""

    samples: Samples
    sections: list[Section]
    spans: list[Span]
    baseline: Baseline
    rests: Rests
    response: bool
    profile: Profile
    conditions: Conditions
    table: FindingTable

    @property
    def period_s(self) -> float:
        return self.sections[0].period_s

    @property
    def limits_mm(self) -> tuple[float, float]:
        return -self.profile.limits.rod_short_mm, self.profile.limits.rod_long_mm

    @property
    def travel_step_mm(self) -> float:
        """One step of the travel's converter; from the data where the source does not say."""
        if self.samples.travel_step_mm is not None:
            return self.samples.travel_step_mm
        steps = np.diff(np.unique(self.samples.travel_mm))
        return float(steps.min()) if len(steps) else 0.0


def judge(samples: Samples, profile: Profile, conditions: Conditions, table: FindingTable) -> Judgement:
    """Return the judgement of one capture.

    samples: the whole capture in time order, SI units, travel positive towards wide open. table: the
    findings' severities and wording. A live capture's plan is repeated: one look after the planned
    sweeps and, while undecided, one after the extension, each with the 97.5 % factor; without a plan
    there is one look at all strokes with the 95 % factor.
    Raises: LinkageError (a ValueError): a profile's geometry that is no linkage of its layout.
    """
    samples = with_sweeps(samples)
    findings = Findings(table, conditions.reference)
    watch_fixture(findings, conditions, profile)
    watch_sensor(findings, samples, profile)
    reason = refuse_samples(samples, profile)
    if reason is not None:
        return _no_result(reason, findings)
    counted = after_adjustment(samples)
    baseline = find_baseline(counted)
    if baseline is None:
        return _no_result("no baseline: no sample is marked as taken with the rod off the pin", findings)
    sections = cut_sections(counted, find_zero(counted) or 0.0)
    spans = find_strokes(sections)
    reason = refuse_travel(sections, spans)
    if reason is not None:
        return _no_result(reason, findings)
    run = Run(
        samples=counted,
        sections=sections,
        spans=spans,
        baseline=baseline,
        rests=find_rests(sections, spans),
        response=shows_response(counted, baseline, profile.thresholds.response_noise_ratio),
        profile=profile,
        conditions=conditions,
        table=table,
    )
    return _look_by_plan(run)


def _look_by_plan(run: Run) -> Judgement:
    plan = run.conditions.plan
    if plan is None:
        return _look(run, run.spans, ONE_LOOK)
    openings = sum(span.direction == "opening" for span in run.spans)
    return look_by_plan(plan, openings, lambda sweeps: _look(run, _first_sweeps(run.spans, sweeps), TWO_LOOKS))


def _first_sweeps(spans: list[Span], sweeps: int) -> list[Span]:
    """Return the strokes of the first `sweeps` sweeps; a sweep begins with an opening."""
    openings = np.cumsum([span.direction == "opening" for span in spans])
    return [span for span, number in zip(spans, openings, strict=True) if number <= sweeps]


def _look(run: Run, spans: list[Span], probability: float) -> Judgement:
    """Judge the run on these strokes, with this coverage probability."""
    findings = Findings(run.table, run.conditions.reference)
    watch_fixture(findings, run.conditions, run.profile)
    watch_sensor(findings, run.samples, run.profile)
    watch_samples(findings, run.samples, run.sections, run.baseline, run.profile, run.conditions)
    watch_rests(findings, run.rests, run.baseline, run.profile, run.conditions.reference)
    enough = noticeable_kpa(run.baseline, run.profile)
    places = locate_ramps(run.sections, spans, enough, run.baseline.level_kpa)
    if not places:
        return _no_result("the strokes hold too few samples to find a ramp", findings)
    if not rises(run.sections, spans, run.baseline, run.profile):
        return _flat(run, spans, findings, probability)
    if falls_as_travel_rises(run.sections, spans, run.baseline, run.profile):
        return _no_result("the pressure falls as travel rises: the travel sensor is the other way round", findings)
    halfway = find_halfway(run.sections, spans, places)
    watch_binding(findings, halfway, run.profile)
    against_lever = run.conditions.reference == "lever_stop"
    reason = refuse_standing(places, halfway, run.baseline, run.profile)
    if reason is None and findings.has("linkage_binds") and not against_lever:
        # Pressure does not go back the way it came: no line tells where such a lever starts.
        reason = BINDS
    if reason is not None:
        return replace(_no_result(reason, findings), plot=plot_of(run.sections, spans, None))
    level = run.baseline.level_kpa
    ramp = fit_ramp(run.sections, spans, places, level, run.profile.thresholds.too_fast_mm_per_s)
    if isinstance(ramp, str):
        return _no_result(f"{ramp}; {_to_see_more(run.conditions)}", findings)
    if ramp.slope_kpa_per_mm <= 0 or abs(ramp.middle()) > 200:
        return _no_result("the pressure does not rise along a ramp that meets the baseline", findings)
    found = estimate(
        ramp, run.period_s, run.travel_step_mm, run.baseline, run.rests, run.profile, run.conditions, probability
    )
    free = found.free_travel_mm(run.profile) if against_lever else None
    full = _full_pressure_kpa(run, spans)
    characteristics = body.characteristics(run.profile, run.baseline, ramp, full, run.rests, free)
    on_stop = "opening" in places and places["opening"].level_mm >= ON_STOP_MM
    watch_ramp(findings, ramp, characteristics, run.rests, run.baseline, run.profile, on_stop=on_stop)
    judged = _judge_rod(run, ramp, found, findings)
    body_verdict = body.body_verdict(characteristics)
    if against_lever:
        judged = _without_rod(judged)
        if body_verdict == "conforming" and "correct" in _forbidden_of(run, ramp, found, findings):
            body_verdict = "undecided"
    return replace(
        judged,
        body_verdict=body_verdict,
        characteristics=characteristics,
        strokes=[_stroke(stroke) for stroke in ramp.strokes],
        plot=plot_of(run.sections, spans, ramp),
        findings=findings.listed(),
    )


def _judge_rod(run: Run, ramp: Ramp, found: Estimate, findings: Findings) -> Judgement:
    """Return the decision on the rod, what forbids a word, and the correction."""
    value = -found.start_mm
    lower, upper = run.limits_mm
    u, freedom = found.combined.standard_uncertainty_mm, found.combined.degrees_of_freedom
    state = decide(value, lower, upper, found.reach_mm)
    sweeps = _whole_sweeps(ramp)
    forbidden = _forbidden_of(run, ramp, found, findings)
    verdict: Verdict = "undecided" if state in forbidden else state
    reason = forbidden.get(state)
    if verdict == "undecided" and reason is None:
        reason = STRADDLES
    outlook = settle(
        value,
        found.spread.standard_uncertainty_mm,
        found.combined.systematic_mm,
        found.spread.degrees_of_freedom,
        1 if found.spread.of == "sweeps" else len(ramp.directions),
        max(1, sweeps),
        found.probability,
        run.limits_mm,
        found.combined.limiting_row,
    )
    few = found.spread.degrees_of_freedom < 2 or sweeps < run.profile.plan.least_sweeps
    if state in forbidden and not few:
        # What forbids the word is not scatter: no number of sweeps mends it.
        outlook = replace(outlook, possible=False, sweeps=None)
    advice = None
    if not findings.stop and state not in forbidden and len(forbidden) < len(WORDS):
        advice = correction.correction_for(run.profile, value, needed=verdict != "correct")
    return Judgement(
        verdict=verdict,
        reason=reason,
        body_verdict=None,
        rod_error=found.rod_error(run.limits_mm),
        probability=probabilities(value, u, freedom, lower, upper),
        settle=outlook,
        lever_start_mm=found.start_mm,
        opening_onset_mm=found.onsets_mm.get("opening"),
        closing_onset_mm=found.onsets_mm.get("closing"),
        friction_mm=found.friction_mm,
        lag_s=ramp.lag_s if ramp.lag_told else None,
        characteristics=[],
        strokes=[],
        correction=advice,
        plot=Plot(),
        budget=found.rows,
        findings=[],
    )


def _without_rod(judgement: Judgement) -> Judgement:
    """With the lever's own stop as reference there is no rod to judge, only the valve body."""
    return replace(
        judgement,
        verdict="no result",
        reason="no curb-idle reference",
        rod_error=None,
        probability=None,
        settle=None,
        correction=None,
    )


def _whole_sweeps(ramp: Ramp) -> int:
    return min(sum(s.used and s.span.direction == d for s in ramp.strokes) for d in ramp.directions)


def _forbidden_of(run: Run, ramp: Ramp, found: Estimate, findings: Findings) -> dict[str, str]:
    return _forbidden(run, findings, found.spread.degrees_of_freedom, _whole_sweeps(ramp))


def _forbidden(run: Run, findings: Findings, freedom: float, sweeps: int) -> dict[str, str]:
    """Return the verdict words that something unproven forbids, each with the reason."""
    forbidden: dict[str, str] = {}

    def forbid(words: tuple[str, ...], reason: str) -> None:
        for word in words:
            forbidden.setdefault(word, reason)

    if run.conditions.rod_unhooked is not True:
        forbid(("correct", "long"), "the baseline is not proven: the rod was not known to be off the pin")
    if findings.has("baseline_implausible"):
        forbid(("correct",), "the baseline is outside the plausible range")
    if findings.has("baseline_changed"):
        forbid(WORDS, "the pressure with the lever on its stop is no longer the baseline")
    if findings.has("pressure_over_limit"):
        forbid(("correct",), "the pressure went over the limit for hose, fittings or port")
    if findings.has("friction_high") and run.conditions.reference == "curb_idle":  # half of the rod's tolerance
        forbid(("correct",), "friction is over half the tolerance")
    if findings.has("linkage_binds"):
        forbid(WORDS, BINDS)
    if findings.has("rod_holds_throttle"):
        forbid(WORDS, "the rod is holding the throttle off its stop")
    if findings.has("travel_not_returned"):
        forbid(WORDS, "the pin did not return to its stop")
    if findings.has("pressure_not_returned"):
        forbid(WORDS, "the pressure did not return")
    if findings.has("idle_moved"):
        forbid(WORDS, "the rest position moved during the run")
    if findings.has("start_jump"):
        forbid(WORDS, "the lever start jumped during the run without a mark")
    if freedom < 2:
        forbid(WORDS, "too few strokes for an honest interval")
    if sweeps < run.profile.plan.least_sweeps:
        forbid(WORDS, f"{sweeps} whole sweeps, at least {run.profile.plan.least_sweeps} needed")
    return forbidden


def _flat(run: Run, spans: list[Span], findings: Findings, probability: float) -> Judgement:
    """Judge a run in which the pressure never rose: short at most, or no result."""
    watch_response(findings, run.samples, run.sections, run.baseline, run.profile)
    reason = refuse_flat(run.sections, spans, run.baseline, run.profile)
    proven = run.conditions.rod_unhooked is True and not findings.has("baseline_implausible")
    if reason is None and run.conditions.reference == "lever_stop":
        reason = "no curb-idle reference"
    if reason is None and findings.has("lever_stuck"):
        reason = "the lever or the valve does not move: neither the pin nor a push by hand raised the pressure"
    if reason is None and not (proven and run.response):
        reason = (
            "the pressure never rose: the pin was not moved far enough, or the lever is not connected; "
            + _to_see_more(run.conditions)
        )
    if reason is None and findings.has("sensor_clipped"):
        reason = "the pressure stands still without any noise: the sensor or its wire is at a rail"
    if reason is None and (findings.stop or findings.has("idle_moved")):
        reason = "the pressure never rose and the rest position is not where the zero was"
    openings = [span for span in spans if span.direction == "opening"]
    if reason is None and len(openings) < run.profile.plan.least_sweeps:
        reason = f"{len(openings)} whole sweeps, at least {run.profile.plan.least_sweeps} needed"
    if reason is not None:
        return _no_result(reason, findings)
    reached = min(float(run.sections[s.section].smooth_mm[s.start : s.stop].max()) for s in openings)
    slope = run.profile.limits.slope_kpa_per_mm[0] or 1.0
    unseen = run.profile.thresholds.response_noise_ratio * run.baseline.noise_kpa / slope
    flat_mm = reached - unseen - UNKNOWN_FRICTION_MM / 2
    rows = travel_rows(flat_mm, run.rests, run.profile, run.conditions)
    flat_mm -= expanded(combine(rows), probability)[0] + run.profile.lever.free_mm
    if flat_mm <= run.profile.limits.rod_short_mm:
        reason = "the pressure never rose, but the pin was not moved far enough to say short; "
        return _no_result(reason + _to_see_more(run.conditions), findings)
    characteristics = body.characteristics(run.profile, run.baseline, None, None, run.rests, None)
    return replace(
        _no_result(None, findings),
        verdict="short",
        rod_error=RodError(value_mm=None, at_most_mm=-flat_mm, limits_mm=run.limits_mm),
        characteristics=characteristics,
        correction=correction.correction_at_least(run.profile, flat_mm),
        strokes=[Stroke(s.direction, _speed(run.sections, s), None, True, None) for s in spans],
        plot=plot_of(run.sections, spans, None),
        budget=rows,
    )


def _to_see_more(conditions: Conditions) -> str:
    """Return how to bring more of the ramp into view: never by opening a running engine's throttle further."""
    if conditions.drive == "throttle":
        return "hang the rod on the hand slide and measure again; do not open the throttle further"
    return "move the pin further and measure again"


def _full_pressure_kpa(run: Run, spans: list[Span]) -> float | None:
    """Return the plateau's pressure, the mean of the directions that reach one."""
    pooled = [pooled_bins(run.sections, spans, direction) for direction in DIRECTIONS]
    enough = noticeable_kpa(run.baseline, run.profile)
    levels = [level for bins in pooled if bins is not None and (level := plateau_kpa(bins, enough)) is not None]
    return float(np.mean(levels)) if levels else None


def _speed(sections: list[Section], span: Span) -> float:
    section = sections[span.section]
    travel = section.smooth_mm[span.start : span.stop]
    return float(abs(travel[-1] - travel[0]) / (len(travel) * section.period_s))


def _stroke(stroke: StrokeData) -> Stroke:
    return Stroke(stroke.span.direction, stroke.speed_mm_per_s, stroke.onset_mm, stroke.used, stroke.why_not)


def _no_result(reason: str | None, findings: Findings) -> Judgement:
    return Judgement(
        verdict="no result",
        reason=reason,
        body_verdict=None,
        rod_error=None,
        probability=None,
        settle=None,
        lever_start_mm=None,
        opening_onset_mm=None,
        closing_onset_mm=None,
        friction_mm=None,
        lag_s=None,
        characteristics=[],
        strokes=[],
        correction=None,
        plot=Plot(),
        budget=[],
        findings=findings.listed(),
    )

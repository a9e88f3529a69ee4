"""The ramp of all strokes together: where its line meets the baseline, per direction, at zero speed.

Model on the ramp, for a sample of direction d at travel u:

    p = a_d + k L(w - c) + b L((w - c)^2)

w is what the valve follows of the travel: the travel through a play as wide as the friction, so that tremor and
pauses, which the valve does not answer, teach nothing false. L is a first-order lag of tau, the same for both
directions; filtering the travel through the lag keeps acceleration right where a speed term would not. The play's
width is the friction found, so the fit is repeated with it. The onset of a direction is where its curve at zero
speed meets the baseline. Only ramp samples away from both knots enter, so that bending, plateau, detent and a
rounded knee do not move it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rodtrue.analysis.decision import coverage_factor
from rodtrue.analysis.friction import followed
from rodtrue.analysis.knots import Bins, RampPlace, bin_by_travel, find_ramp
from rodtrue.analysis.lag import lagged
from rodtrue.analysis.strokes import Section, Span
from rodtrue.model.both_units import speed

_Array = NDArray[np.float64]
Direction = Literal["opening", "closing"]
DIRECTIONS: tuple[Direction, Direction] = ("opening", "closing")

GUARD_MM = 1.0
PLATEAU_GUARD_MM = 3.0
"""A valve gives way to what the supply holds softly: the ramp bends well before its plateau."""
GUARD_LAGS = 4.0
LAG_GUESS_S = 0.015
WINDOW_MM = 9.0
WIDEST_WINDOW_MM = 16.0
BENDING_WINDOW_MM = 6.0
LEAST_WINDOW_MM = 1.0
LEAST_SAMPLES = 10
TOO_LITTLE_RAMP = "its travel shows too little of the ramp to fit a line"
LEAST_COVER = 0.6
HOLD_MM = 1.2
"""After a turn the valve is held by friction until the lever has moved by up to this much."""
GAUSS_NEWTON_STEPS = 4
LARGEST_GUARD_LAG_S = 0.04
NEAR_KNEE_MM = 3.5
"""A ramp read this near its onset is carried back so little that an unseen bend hardly matters."""
BEND_SHOWS = 0.9973
"""Three standard deviations; few strokes tell the jackknife's error badly, so Student's factor stands for the 3."""
PLAY_ROUNDS = 3
SMALL_PLAY_MM = 0.002
LARGEST_PLAY_MM = 1.0
"""Half the friction of twice the worst valve: more is a linkage that binds, not a valve's play."""
LARGEST_LAG_S = 0.2
SPEED_SPREAD = 0.15
"""Least relative spread of the speed on the ramp (two speeds 3:2 give 0.2) for the lag to be told from
friction."""


@dataclass(frozen=True)
class Window:
    """The travel between which ramp samples of one direction are used, and the first guess of its onset."""

    lower_mm: float
    upper_mm: float
    onset_guess_mm: float


@dataclass
class StrokeData:
    """One stroke's samples and what became of them."""

    span: Span
    speed_mm_per_s: float = 0.0
    why_not: str | None = None
    rows: NDArray[np.intp] = field(default_factory=lambda: np.zeros(0, np.intp))
    onset_mm: float | None = None
    gram: _Array = field(default_factory=lambda: np.zeros((0, 0)))
    moment: _Array = field(default_factory=lambda: np.zeros(0))

    @property
    def used(self) -> bool:
        return self.why_not is None


@dataclass(frozen=True)
class Ramp:
    """The pooled fit.

    coefficients: [a_opening, a_closing, k] and b where `bends`, lag's step where `lag_told`; travel is
    counted from centre_mm. lag_s is 0 where it could not be told apart (`lag_told` false). play_mm: half the
    friction taken out of the travel beforehand; opening, the valve is that far behind the pin, closing ahead.
    bend_shift_mm: what a bend moves the middle of the onsets by, whether it was kept or not; None where the
    window is too short to show one. residual_kpa and columns: one array per used stroke, in the order of `strokes`.
    """

    coefficients: _Array
    centre_mm: float
    directions: tuple[Direction, ...]
    bends: bool
    bend_shift_mm: float | None
    lag_told: bool
    lag_s: float
    play_mm: float
    baseline_kpa: float
    strokes: list[StrokeData]
    windows: dict[Direction, Window]
    residual_kpa: list[_Array]
    columns: list[_Array]

    @property
    def slope_kpa_per_mm(self) -> float:
        """Slope of the ramp at the middle of the onsets."""
        middle = float(np.mean(list(self.onsets().values())))
        return self._slope_at(self.coefficients, middle)

    def onsets(self, coefficients: _Array | None = None) -> dict[Direction, float]:
        """Return the onset of each direction in mm, for these coefficients or the fitted ones."""
        beta = self.coefficients if coefficients is None else coefficients
        n = len(self.directions)
        slope, bend = float(beta[n]), float(beta[n + 1]) if self.bends else 0.0
        return {
            direction: self.centre_mm
            + _meets(float(beta[i]) - self.baseline_kpa, slope, bend)
            + (self.play_mm if direction == "opening" else -self.play_mm)
            for i, direction in enumerate(self.directions)
        }

    def middle(self, coefficients: _Array | None = None) -> float:
        """Return the mean of the directions' onsets in mm."""
        return float(np.mean(list(self.onsets(coefficients).values())))

    def speed_mm_per_s(self, direction: Direction) -> float | None:
        """Return the mean speed on the ramp of the used strokes of one direction, None without any."""
        speeds = [s.speed_mm_per_s for s in self.strokes if s.used and s.span.direction == direction]
        return float(np.mean(speeds)) if speeds else None

    def _slope_at(self, beta: _Array, travel_mm: float) -> float:
        n = len(self.directions)
        bend = float(beta[n + 1]) if self.bends else 0.0
        return float(beta[n]) + 2 * bend * (travel_mm - self.centre_mm)


def _meets(excess_kpa: float, slope: float, bend: float) -> float:
    """Return x where excess + slope x + bend x^2 = 0, the root that tends to the straight line's one."""
    straight = -excess_kpa / slope
    under_root = 1.0 - 4.0 * bend * excess_kpa / slope**2
    if under_root <= 0.0:
        return straight
    return 2.0 * straight / (1.0 + float(np.sqrt(under_root)))


def pooled_bins(sections: list[Section], spans: list[Span], direction: Direction) -> Bins | None:
    """Return the travel bins of all strokes of one direction, None where there is none."""
    pieces = [(sections[s.section], s) for s in spans if s.direction == direction]
    if not pieces:
        return None
    travel = np.concatenate([section.smooth_mm[s.start : s.stop] for section, s in pieces])
    pressure = np.concatenate([section.pressure_kpa[s.start : s.stop] for section, s in pieces])
    return bin_by_travel(travel, pressure)


def locate_ramps(
    sections: list[Section], spans: list[Span], noticeable_kpa: float, baseline_kpa: float
) -> dict[Direction, RampPlace]:
    """Return where the ramp lies in each direction that has strokes."""
    places: dict[Direction, RampPlace] = {}
    for direction in DIRECTIONS:
        bins = pooled_bins(sections, spans, direction)
        place = None if bins is None else find_ramp(bins, noticeable_kpa, baseline_kpa)
        if place is not None:
            places[direction] = place
    return places


def fit_ramp(
    sections: list[Section],
    spans: list[Span],
    places: dict[Direction, RampPlace],
    baseline_kpa: float,
    too_fast_mm_per_s: float,
) -> Ramp | str:
    """Return the pooled ramp, or a sentence saying why there is none.

    sections, spans: the run's strokes. places: from `locate_ramps`. baseline_kpa: pinned level.
    """
    ramp = _attempt(sections, spans, places, baseline_kpa, too_fast_mm_per_s, LAG_GUESS_S)
    if isinstance(ramp, Ramp) and ramp.lag_told and ramp.lag_s > LAG_GUESS_S:
        # The guard about the knots was too narrow for this lag.
        wider = min(ramp.lag_s, LARGEST_GUARD_LAG_S)
        again = _attempt(sections, spans, places, baseline_kpa, too_fast_mm_per_s, wider)
        if isinstance(again, Ramp) and again.directions == ramp.directions:
            return again
    return ramp


def _attempt(
    sections: list[Section],
    spans: list[Span],
    places: dict[Direction, RampPlace],
    baseline: float,
    too_fast: float,
    lag_s: float,
) -> Ramp | str:
    """Fit the ramp with guards for this lag."""
    strokes = [StrokeData(span) for span in spans]
    windows = {d: _window(sections, strokes, d, place, baseline, lag_s) for d, place in places.items()}
    usable = {d: w for d, w in windows.items() if w.upper_mm - w.lower_mm >= LEAST_WINDOW_MM}
    for stroke in strokes:
        window = usable.get(stroke.span.direction)
        if window is None:
            stroke.why_not = TOO_LITTLE_RAMP
        else:
            _choose_rows(sections[stroke.span.section], stroke, window, too_fast)
    used = [s for s in strokes if s.used]
    directions = tuple(d for d in DIRECTIONS if any(s.span.direction == d for s in used))
    if not directions:
        # Numbers differ from stroke to stroke; the kind of reason stands before the colon.
        kinds = sorted({s.why_not.split(":")[0] for s in strokes if s.why_not})
        return "no stroke could be used: " + ", ".join(kinds)
    told = _lag_can_be_told(sections, used, directions)
    return _Fit(sections, strokes, used, directions, usable, baseline, told).ramp()


def _window(
    sections: list[Section],
    strokes: list[StrokeData],
    direction: Direction,
    place: RampPlace,
    baseline: float,
    lag_s: float,
) -> Window:
    spans = [s.span for s in strokes if s.span.direction == direction]
    smooth = [sections[s.section].smooth_mm[s.start : s.stop] for s in spans]
    low = min(float(piece.min()) for piece in smooth)
    high = max(float(piece.max()) for piece in smooth)
    periods = [sections[s.section].period_s for s in spans]
    speed_mm_per_s = float(
        np.median([abs(piece[-1] - piece[0]) / (len(piece) * t) for piece, t in zip(smooth, periods, strict=True)])
    )
    onset = place.lower_mm - (place.level_kpa - baseline) / place.slope_kpa_per_mm
    ends = min(place.detent_mm, high)
    if place.upper_mm < min(place.seen_mm, high - GUARD_MM):
        ends = min(ends, place.upper_mm)
    # The lag remembers what the pin has passed: opening, the level below the knee; closing, what is beyond the ramp.
    most = 0.25 * max(ends - place.lower_mm, 0.0)
    plain, remembered = min(GUARD_MM, most), min(max(GUARD_MM, GUARD_LAGS * speed_mm_per_s * lag_s), most)
    at_knee, at_end = (remembered, plain) if direction == "opening" else (plain, remembered)
    if ends == place.upper_mm:
        at_end = max(at_end, min(PLATEAU_GUARD_MM, most))
    lower = place.lower_mm + at_knee
    if not place.has_level:
        lower = low + (HOLD_MM if direction == "opening" else 0.2)
    distance = max(0.0, lower - onset)
    widest = min(WIDEST_WINDOW_MM, max(WINDOW_MM, 1.5 * distance))
    return Window(lower, min(ends - at_end, place.seen_mm - plain, lower + widest), onset)


def _choose_rows(section: Section, stroke: StrokeData, window: Window, too_fast: float) -> None:
    """Put into `stroke` the samples on the ramp, or the reason why it cannot be used."""
    span = stroke.span
    travel = section.smooth_mm[span.start : span.stop]
    inside = (travel >= window.lower_mm) & (travel <= window.upper_mm)
    stroke.rows = span.start + np.flatnonzero(inside)
    seconds = (span.stop - span.start) * section.period_s
    stroke.speed_mm_per_s = float(abs(travel[-1] - travel[0]) / seconds)
    covered = min(travel.max(), window.upper_mm) - max(travel.min(), window.lower_mm)
    if covered < LEAST_COVER * (window.upper_mm - window.lower_mm):
        at_edge = span.start < 5 or span.stop > len(section.time_s) - 5
        if at_edge and section.broken_before:
            stroke.why_not = "broken by missing samples near the lever start"
        else:
            stroke.why_not = "too short to cover the ramp"
        return
    seconds_inside = max(len(stroke.rows), 1) * section.period_s
    stroke.speed_mm_per_s = float(covered / seconds_inside)
    if stroke.speed_mm_per_s > too_fast:
        was, most = speed(stroke.speed_mm_per_s), speed(too_fast)
        stroke.why_not = f"too fast: {was} on the ramp, at most {most}"
    elif len(stroke.rows) < LEAST_SAMPLES:
        stroke.why_not = f"too few samples on the ramp: {len(stroke.rows)}, at least {LEAST_SAMPLES} needed"


@dataclass(frozen=True)
class _Fit:
    """The pooled regression of the used strokes: what stays the same while play, lag and bend are found."""

    sections: list[Section]
    strokes: list[StrokeData]
    used: list[StrokeData]
    directions: tuple[Direction, ...]
    windows: dict[Direction, Window]
    baseline: float
    told: bool

    def ramp(self) -> Ramp:
        """Return the ramp, with a bend where there is room for one and it shows or carries far."""
        width = min(self.windows[d].upper_mm - self.windows[d].lower_mm for d in self.directions)
        if width < BENDING_WINDOW_MM:
            return self._finished(self._with_play(bends=False))
        bent = self._with_play(bends=True)
        shows = _bend_shows(bent)
        bent_middle = bent.middle()
        straight = self._with_play(bends=False)
        shift = bent_middle - straight.middle()
        near = max(self.windows[d].lower_mm - self.windows[d].onset_guess_mm for d in self.directions) <= NEAR_KNEE_MM
        if near and not shows:
            return self._finished(replace(straight, bend_shift_mm=shift))
        # Solved again, so that the strokes hold the shares of the fit that counts.
        return self._finished(replace(self._with_play(bends=True), bend_shift_mm=shift))

    def _finished(self, ramp: Ramp) -> Ramp:
        onsets, slope = ramp.onsets(), ramp.slope_kpa_per_mm
        for stroke, rest in zip(self.used, ramp.residual_kpa, strict=True):
            stroke.onset_mm = onsets[stroke.span.direction] - float(rest.mean()) / slope
        return ramp

    def _with_play(self, *, bends: bool) -> Ramp:
        """Return the fit whose play is the friction it finds."""
        ramp = self._solved(0.0, bends)
        for _ in range(PLAY_ROUNDS if len(self.directions) == 2 else 0):
            onsets = ramp.onsets()
            play = max(0.0, onsets["opening"] - onsets["closing"]) / 2
            if play > LARGEST_PLAY_MM or abs(play - ramp.play_mm) < SMALL_PLAY_MM:
                break
            ramp = self._solved(play, bends)
        return ramp

    def _solved(self, play_mm: float, bends: bool) -> Ramp:
        """Fit levels, slope, bend and lag with this half-width of play in the travel."""
        centre = float(np.mean([self.windows[d].lower_mm for d in self.directions]))
        paths = {
            i: (followed(self.sections[i].smooth_mm, play_mm) - centre, self.sections[i].period_s)
            for i in {s.span.section for s in self.used}
        }
        lag = LAG_GUESS_S if self.told else 0.0
        columns = _columns(paths, self.used, self.directions, bends, lag, None)
        beta = _least_squares(self.sections, self.used, columns)
        for _ in range(GAUSS_NEWTON_STEPS if self.told else 0):
            columns = _columns(paths, self.used, self.directions, bends, lag, beta)
            beta = _least_squares(self.sections, self.used, columns)
            lag = float(np.clip(lag + beta[-1], 0.0, LARGEST_LAG_S))
        residual = []
        for stroke, x in zip(self.used, columns, strict=True):
            p = self.sections[stroke.span.section].pressure_kpa[stroke.rows]
            residual.append(p - x @ beta)
        return Ramp(
            beta, centre, self.directions, bends, None, self.told, lag, play_mm, self.baseline, self.strokes,
            self.windows, residual, columns,
        )  # fmt: skip


def _bend_shows(ramp: Ramp) -> bool:
    """Whether the bend is beyond zero with the probability `BEND_SHOWS`, by its jackknife standard error."""
    used = [s for s in ramp.strokes if s.used]
    if len(used) < 4:
        return True
    gram, moment = pooled_normal(used)
    at = len(ramp.directions) + 1
    bends = np.array([solve_normal(gram - s.gram, moment - s.moment)[at] for s in used])
    error = float(np.sqrt((len(bends) - 1) * bends.var()))
    factor = coverage_factor(BEND_SHOWS, len(used) - 1 - len(ramp.directions))
    return abs(float(ramp.coefficients[at])) > factor * error


def _lag_can_be_told(sections: list[Section], used: list[StrokeData], directions: tuple[Direction, ...]) -> bool:
    """Whether the speed on the ramp varies enough, within any direction, to part lag from friction."""
    for direction in directions:
        speeds = []
        for stroke in used:
            if stroke.span.direction == direction:
                section = sections[stroke.span.section]
                speeds.append(np.gradient(section.smooth_mm, section.period_s)[stroke.rows])
        together = np.concatenate(speeds)
        if len(speeds) >= 2 and together.std() >= SPEED_SPREAD * abs(together.mean()):
            return True
    return False


def _columns(
    paths: dict[int, tuple[_Array, float]],
    used: list[StrokeData],
    directions: tuple[Direction, ...],
    bends: bool,
    lag: float,
    beta: _Array | None,
) -> list[_Array]:
    """Return each stroke's design, shape (rows, parameters).

    paths: by section, the followed travel from the centre and the sample period.
    With `beta` (levels, slope, bend) the last column is the derivative of the curve by the lag.
    """

    def curve(path: tuple[_Array, float], lag_s: float) -> list[_Array]:
        w, period_s = path
        shapes = [w, w * w] if bends else [w]
        return [lagged(shape, lag_s, period_s) for shape in shapes]

    n = len(directions)
    shapes = {i: curve(path, lag) for i, path in paths.items()}
    derivative: dict[int, _Array] = {}
    if beta is not None:
        step = 0.1 * max(lag, 0.005)
        low = max(0.0, lag - step)
        for i, path in paths.items():
            up, down = curve(path, lag + step), curve(path, low)
            shares = [w * (a - b) for w, a, b in zip(beta[n : n + len(up)], up, down, strict=True)]
            derivative[i] = np.sum(shares, axis=0) / (lag + step - low)
    designs = []
    for stroke in used:
        rows, i = stroke.rows, stroke.span.section
        x = np.zeros((len(rows), n + len(shapes[i]) + (beta is not None)))
        x[:, directions.index(stroke.span.direction)] = 1.0
        for k, shape in enumerate(shapes[i]):
            x[:, n + k] = shape[rows]
        if beta is not None:
            x[:, -1] = derivative[i][rows]
        designs.append(x)
    return designs


def _least_squares(sections: list[Section], used: list[StrokeData], columns: list[_Array]) -> _Array:
    """Solve the pooled normal equations and leave each stroke's share with it for the jackknife."""
    for stroke, x in zip(used, columns, strict=True):
        p = sections[stroke.span.section].pressure_kpa[stroke.rows]
        stroke.gram, stroke.moment = x.T @ x, x.T @ p
    return solve_normal(*pooled_normal(used))


def pooled_normal(used: list[StrokeData]) -> tuple[_Array, _Array]:
    """Return the normal equations of these strokes together."""
    return np.sum([s.gram for s in used], axis=0), np.sum([s.moment for s in used], axis=0)


def solve_normal(gram: _Array, moment: _Array) -> _Array:
    """Return the least-squares solution of normal equations, scaled so that columns weigh alike."""
    scale = np.sqrt(np.maximum(np.diag(gram), 1e-300))
    scaled = gram / np.outer(scale, scale)
    solution, *_ = np.linalg.lstsq(scaled, moment / scale, rcond=1e-12)
    return np.asarray(solution / scale)

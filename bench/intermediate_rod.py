"""Does a wrong intermediate rod, either way, lower pressure at every throttle position?

The trade says so (common practice, no source). Tested here on the kinematics of two bell cranks, over a stated
family of geometries. Pressure rises with the lever's angle up to its plateau, so lever travel is compared, at
every mm of pin travel. Two readings: the upper rod is left as it is; or it is adjusted again afterwards, so
that the lever just starts at curb idle, as the trade does it.

Writes results/intermediate_rod.md beside this file.
"""

from __future__ import annotations

import platform
import textwrap
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rodtrue.linkage import LinkageError
from rodtrue.linkage.bell_cranks import BellCrankLinkage
from rodtrue.linkage.two_bell_cranks import SET_FIRST, two_bell_cranks
from rodtrue.model.geometry import BellCrank, Geometry, LeverArm
from rodtrue.profiles import load_profile

Effect = Literal["lower", "higher", "mixed", "cannot go"]
EFFECTS: tuple[Effect, ...] = ("lower", "higher", "mixed", "cannot go")
READINGS = ("adjusted again", "left as it is")

SEED = 20260101
GEOMETRIES = 2000
SIZES_MM = (0.5, 1.0, 2.0, 4.0, 8.0)
FINE_SIZES_MM = np.round(np.arange(0.1, 8.05, 0.1), 1)
FULL_TRAVEL_MM = 45.0
POSITIONS_MM = np.arange(1.0, FULL_TRAVEL_MM + 0.5)
SAME_MM = 1e-7

ARMS_MM = (40.0, 50.0, 60.0, 70.0, 80.0)
FROM_SQUARE_DEG = (-30.0, -20.0, -10.0, 0.0, 10.0)
SLOTTED_RODS_MM, OTHER_RODS_MM = (250.0, 350.0, 450.0), (80.0, 150.0, 250.0, 350.0)
UPPER_WAYS_DEG, TURNS_DEG = (-10.0, 0.0, 10.0), (-90.0, -60.0, -30.0, 30.0, 60.0, 90.0)
WIDTH = 110
WHAT = """Written by `python -m bench.intermediate_rod`. Does a wrong intermediate rod, either way, lower pressure at
every throttle position (common practice, no source)? Kinematics of two bell cranks, all rods pushed; lever travel
compared at every mm of pin travel from 1 to 45 mm. Cannot go: a rod cannot close or a crank turns back before full
travel."""
RESULTS = Path(__file__).parent / "results" / "intermediate_rod.md"


@dataclass(frozen=True)
class Case:
    """A linkage of the family; whether both arms of its upper bell crank stand equally far from square."""

    linkage: BellCrankLinkage
    alike: bool


def family(rng: np.random.Generator, counts: Counter[str]) -> Iterator[Case]:
    """Yield linkages drawn evenly from the grid, without end; `counts` takes in what was drawn and refused."""
    while True:
        from_square_deg = rng.choice(FROM_SQUARE_DEG, 5)
        counts["drawn"] += 1
        try:
            linkage = two_bell_cranks(_draw(rng, from_square_deg))
        except LinkageError:
            counts["refused"] += 1
            continue
        yield Case(linkage, bool(from_square_deg[0] == from_square_deg[1]))


def _draw(rng: np.random.Generator, from_square_deg: NDArray[np.float64]) -> Geometry:
    """Return a drawing: rods and cranks put one after the other, from a pin at the origin that travels along x."""
    arms_mm = rng.choice(ARMS_MM, 5)
    rods_mm = np.append(rng.choice(SLOTTED_RODS_MM), rng.choice(OTHER_RODS_MM, 2))
    ways_deg = np.cumsum(np.append(rng.choice(UPPER_WAYS_DEG), rng.choice(TURNS_DEG, 2)))
    senses = rng.choice((-1.0, 1.0), 3)
    place, cranks = np.zeros(2), []
    for k in range(3):
        place = place + rods_mm[k] * _unit(ways_deg[k])
        arm_deg = ways_deg[k] - senses[k] * (90.0 - from_square_deg[2 * k])
        pivot = place - arms_mm[2 * k] * _unit(arm_deg)
        if k == 2:
            break
        out_deg = ways_deg[k + 1] - senses[k] * (90.0 - from_square_deg[2 * k + 1])
        cranks.append(BellCrank(_point(pivot), arms_mm[2 * k], arm_deg, arms_mm[2 * k + 1], out_deg))
        place = pivot + arms_mm[2 * k + 1] * _unit(out_deg)
    lever = LeverArm(_point(pivot), arms_mm[4], arm_deg)
    return Geometry((0.0, 0.0), 0.0, FULL_TRAVEL_MM, tuple(cranks), lever)


def _unit(angle_deg: float) -> NDArray[np.float64]:
    angle = np.radians(angle_deg)
    return np.array([np.cos(angle), np.sin(angle)])


def _point(place: NDArray[np.float64]) -> tuple[float, float]:
    return float(place[0]), float(place[1])


def difference_mm(exact: BellCrankLinkage, error_mm: float, reading: str) -> NDArray[np.float64] | None:
    """Return how much farther the lever goes with the intermediate rod too long by `error_mm`, shape (45,).

    None where the linkage then does not go together, or does not work all the way.
    """
    try:
        wrong = exact.changed({SET_FIRST: error_mm})
        if reading == "adjusted again":
            upper = wrong.rods[0]
            wrong = wrong.changed({upper: wrong.length_change_mm(upper)})
        lever_mm = wrong.lever_travel_mm(POSITIONS_MM)
    except LinkageError:
        return None
    turns_back = bool(np.any(np.diff(lever_mm) < 0.0))
    return None if turns_back else lever_mm - exact.lever_travel_mm(POSITIONS_MM)


def effect_of(difference: NDArray[np.float64] | None) -> Effect:
    """Return what a wrong rod does to the pressure at the positions."""
    if difference is None:
        return "cannot go"
    if np.all(difference < -SAME_MM):
        return "lower"
    return "higher" if np.all(difference > SAME_MM) else "mixed"


def holds_from_mm(exact: BellCrankLinkage) -> float | None:
    """Return the error from which on, to 8 mm, both directions lower pressure everywhere; None where none does.

    The upper rod adjusted again.
    """
    holds = [
        all(effect_of(difference_mm(exact, way * size, "adjusted again")) == "lower" for way in (1.0, -1.0))
        for size in FINE_SIZES_MM
    ]
    failing = [k for k, held in enumerate(holds) if not held]
    first = failing[-1] + 1 if failing else 0
    return float(FINE_SIZES_MM[first]) if first < len(holds) else None


def family_tables() -> list[str]:
    """Return the family's part of the page."""
    rng, counts = np.random.default_rng(SEED), Counter[str]()
    cases = list(islice(family(rng, counts), GEOMETRIES))
    alike = [case for case in cases if case.alike]
    stated = (
        f"{GEOMETRIES} working linkages of {counts['drawn']} drawn (seed {SEED}; {counts['refused']} refused: a rod "
        f"would be pulled, a dead point, or short of {FULL_TRAVEL_MM:g} mm travel). Drawn evenly from: arms "
        f"{_list(ARMS_MM)} mm; each of the five arms {_list(FROM_SQUARE_DEG)} degrees from square to its rod at curb "
        f"idle (negative: before square); upper rod {_list(SLOTTED_RODS_MM)} mm long at {_list(UPPER_WAYS_DEG)} "
        f"degrees to the pin's way; other rods {_list(OTHER_RODS_MM)} mm, each turned from the one before by "
        f"{_list(TURNS_DEG)} degrees; cranks turning either way."
    )
    lines = [textwrap.fill(stated, WIDTH), ""]
    for reading in READINGS:
        lines += [f"### Upper rod {reading}", "", *_shares(cases, reading), ""]
    lines += [
        f"### Upper rod adjusted again, the upper bell crank's arms equally far from square ({len(alike)} of them)",
        "",
        *_shares(alike, READINGS[0]),
    ]
    return lines


def _shares(cases: list[Case], reading: str) -> list[str]:
    lines = [
        "| error / mm | long: lower | higher | mixed | cannot go | short: lower | higher | mixed | cannot go "
        "| lower either way | change of lever travel at full throttle / mm, median (5 to 95 %) |",
        "| --- " * 11 + "|",
    ]
    for size in SIZES_MM:
        found = {way: [difference_mm(case.linkage, way * size, reading) for case in cases] for way in (1.0, -1.0)}
        effects = {way: [effect_of(item) for item in found[way]] for way in found}
        cells = [f"{100 * effects[way].count(effect) / len(cases):.1f} %" for way in found for effect in EFFECTS]
        both = sum(a == b == "lower" for a, b in zip(effects[1.0], effects[-1.0], strict=True))
        last = np.abs([item[-1] for way in found for item in found[way] if item is not None])
        spread = "{1:.2f} ({0:.2f} to {2:.2f})".format(*np.percentile(last, [5, 50, 95]))
        lines.append(f"| {size:g} | " + " | ".join([*cells, f"{both} of {len(cases)}", spread]) + " |")
    return lines


def shipped_tables() -> list[str]:
    """Return the part of the page about the shipped geometry and its neighbours."""
    geometry = load_profile("example-two-bell-cranks").geometry
    assert geometry is not None
    exact = two_bell_cranks(geometry)
    lines = [
        f"Holds from an error of {_size(holds_from_mm(exact))} on (looked at every 0.1 mm to 8 mm), the upper rod",
        "adjusted again. Change of lever travel, as an equivalent at the driving end, upper rod adjusted again:",
        "",
        "| error / mm | at 10 mm pin travel | at 25 mm | at 45 mm | share at 45 mm |",
        "| --- | --- | --- | --- | --- |",
    ]
    full_mm = float(exact.lever_travel_mm(FULL_TRAVEL_MM))
    for error in (-8.0, -4.0, -2.0, -1.0, 1.0, 2.0, 4.0, 8.0):
        found = difference_mm(exact, error, READINGS[0])
        assert found is not None
        cells = [f"{found[k - 1]:+.4f}" for k in (10, 25, 45)] + [f"{100 * found[-1] / full_mm:+.2f} %"]
        lines.append(f"| {error:+g} | " + " | ".join(cells) + " |")
    lines += [
        "",
        "Its neighbours, one arm turned by one degree on the drawing:",
        "",
        "| arm | one degree less | one degree more |",
        "| --- | --- | --- |",
    ]
    for name, turned in _neighbours(geometry):
        cells = [_size(holds_from_mm(two_bell_cranks(drawn))) for drawn in turned]
        lines.append(f"| {name} | " + " | ".join(cells) + " |")
    return lines


def _neighbours(geometry: Geometry) -> Iterator[tuple[str, list[Geometry]]]:
    for k, crank_name in enumerate(("upper", "lower")):
        crank = geometry.bell_cranks[k]
        for arm in ("in", "out"):
            field = f"{arm}_arm_deg"
            turned = [replace(crank, **{field: getattr(crank, field) + by}) for by in (-1.0, 1.0)]
            yield (
                f"{crank_name} bell crank, {'driven' if arm == 'in' else 'driving'} arm",
                [_with_crank(geometry, k, crank) for crank in turned],
            )
    lever = geometry.lever
    yield "lever", [replace(geometry, lever=replace(lever, arm_deg=lever.arm_deg + by)) for by in (-1.0, 1.0)]


def _with_crank(geometry: Geometry, k: int, crank: BellCrank) -> Geometry:
    cranks = list(geometry.bell_cranks)
    cranks[k] = crank
    return replace(geometry, bell_cranks=tuple(cranks))


def _size(size_mm: float | None) -> str:
    return "no error up to 8 mm" if size_mm is None else f"{size_mm:.1f} mm"


def _list(values: tuple[float, ...]) -> str:
    return ", ".join(f"{value:g}" for value in values)


def page() -> str:
    """Return the whole page."""
    return "\n".join(
        [
            "# A wrong intermediate rod",
            "",
            textwrap.fill(WHAT, WIDTH),
            f"Python {platform.python_version()}, numpy {np.__version__}.",
            "",
            "## The family",
            "",
            *family_tables(),
            "",
            "## The shipped example",
            "",
            *shipped_tables(),
            "",
        ]
    )


def main() -> None:
    """Run the study and write its page."""
    text = page()
    RESULTS.parent.mkdir(exist_ok=True)
    RESULTS.write_text(text)
    print(text)


if __name__ == "__main__":
    main()

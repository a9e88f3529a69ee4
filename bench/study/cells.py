"""The disturbances the statistical interval is held against, one at a time, on both generators."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from bench.study.plant_runs import PlantRun, Truth, plant_samples
from bench.study.separate_runs import QUIET, separate_samples
from rodtrue.model.samples import Samples

FRICTION_KPA = 3.0


@dataclass(frozen=True)
class FromPlant:
    """A maker of runs that can be handed to a worker process."""

    run: PlantRun

    def __call__(self, seed: int) -> tuple[Samples, Truth]:
        return plant_samples(self.run, seed)


@dataclass(frozen=True)
class FromSeparate:
    """The same for the second generator; what is not given is as drawn."""

    given: tuple[tuple[str, Any], ...]

    def __call__(self, seed: int) -> tuple[Samples, Truth]:
        return separate_samples(dict(self.given), seed)


def separate(**given: Any) -> FromSeparate:
    """Return the second generator's quiet run with these disturbances."""
    return FromSeparate(tuple((QUIET | given).items()))


def statistical_cells() -> dict[str, tuple[FromPlant, FromSeparate]]:
    """Return, by name, the run of the plant and that of the second generator."""
    quiet = PlantRun()
    made = {
        "white noise": (quiet, {}),
        "ripple": (replace(quiet, ripple_kpa=1.5), {"ripple_kpa": 2.5, "ripple_hz": (60.0, 200.0)}),
        "aliased ripple": (
            replace(quiet, rate_hz=250, ripple_kpa=1.5, ripple_hz=(236.0, 249.0)),
            {"rate_hz": 250, "ripple_kpa": 2.5, "ripple_hz": (243.0, 249.0)},
        ),
        "slow wander": (replace(quiet, wander_kpa=0.5), {"wander_kpa": 0.5}),
        "scatter from stroke to stroke": (replace(quiet, scatter_mm=0.05), {"scatter_mm": 0.05}),
        "lag 5-30 ms, friction 3 kPa": (
            replace(quiet, lag_s=(0.005, 0.030), friction_kpa=FRICTION_KPA, ripple_kpa=1.5),
            {"lag_s": (0.005, 0.030), "friction_mm": FRICTION_KPA / 12.0, "ripple_kpa": 2.5},
        ),
    }
    return {name: (FromPlant(run), separate(**given)) for name, (run, given) in made.items()}

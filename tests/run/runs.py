"""Whole runs for tests: a plant behind a line, a recorder, and answers given by rule."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from rodtrue.link.client import Client
from rodtrue.model.profile import Profile
from rodtrue.profiles import load_profile, parse_profile, profile_text
from rodtrue.run.guided import GuidedRun, RunSettings
from rodtrue.run.hand import VirtualHand
from rodtrue.run.prompts import DONE, YES, Acknowledge, Ask, Checklist, Prompt
from rodtrue.run.recorder import Recorder
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import body_scenario, scenario_for
from run.plant_line import PlantLine

ANSWER_AFTER_S = 0.7
LONGEST_RUN_S = 1000.0
"""Device time; a run that is not over by then goes round in circles."""


@dataclass
class Bench:
    """A run with everything around it."""

    run: GuidedRun
    line: PlantLine
    plant: Plant
    hand: VirtualHand
    recorder: Recorder

    def play(
        self,
        answers: dict[str, str] | None = None,
        until: Callable[[GuidedRun], bool] = lambda run: False,
        each: Callable[[], None] = lambda: None,
    ) -> list[Prompt]:
        """Play on; answers: words by question, else the first choice. Return the prompts in order."""
        prompts: list[Prompt] = []
        since_s = self.line.now_s
        while not self.run.finished and not until(self.run):
            assert self.line.now_s < LONGEST_RUN_S, "the run does not come to an end"
            prompt = self.run.prompt
            if not prompts or prompt is not prompts[-1]:
                prompts.append(prompt)
                since_s = self.line.now_s
                self.hand.follow(self.run)
            self.run.update(0.04)
            each()
            if self.run.prompt is prompt and self.line.now_s - since_s > ANSWER_AFTER_S:
                answer(self.run, answers or {})
        return prompts


def answer(run: GuidedRun, answers: dict[str, str]) -> None:
    """Answer the prompt if it is a question."""
    prompt = run.prompt
    if isinstance(prompt, Acknowledge):
        run.answer(YES)
    elif isinstance(prompt, Checklist):
        for item in prompt.items:
            run.tick(item.code, item.words[0] if item.words else f"invented {item.code}")
        run.answer(DONE)
    elif isinstance(prompt, Ask):
        default = prompt.choices[0] if prompt.choices else prompt.default
        run.answer(answers.get(prompt.code, default))


def bench(
    folder: Path,
    *,
    rod_error_mm: float = -2.5,
    seed: int = 1,
    fault: str | None = None,
    profile: Profile | None = None,
    text: str | None = None,
    **settings: Any,
) -> Bench:
    """Return a run on a plant, about to begin; text: a profile's, to be noted in the capture and judged by."""
    chosen = profile or (load_profile() if text is None else parse_profile(text, "the test"))
    drive = settings.get("drive", "slide")
    if settings.get("reference") == "lever_stop":
        scenario = body_scenario(chosen, fault=fault)
    else:
        scenario = scenario_for(chosen, rod_error_mm=rod_error_mm, fault=fault, drive=drive)
    plant = Plant(scenario, seed)
    line = PlantLine(plant)
    client = Client(line, clock=line.clock, wait=line.wait)
    recorder = Recorder(client, client.hello())
    noted = text or profile_text("example-direct")[0]
    run = GuidedRun(recorder, RunSettings(chosen, noted, folder, **settings))
    return Bench(run, line, plant, VirtualHand(plant.hand, plant.handle), recorder)


def with_thresholds(**thresholds: float) -> Profile:
    """Return the example profile with other thresholds."""
    profile = load_profile()
    return replace(profile, thresholds=replace(profile.thresholds, **thresholds))

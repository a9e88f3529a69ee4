"""The shipped example profile, and its TOML with one line changed."""

from pathlib import Path

from rodtrue.model.profile import Profile
from rodtrue.profiles import load_profile, parse_profile, profile_text
from rodtrue.shifts.predict import Opening, RodErrorGiven, predict_shifts

FINE = tuple(step / 400 for step in range(401))
"""Openings close enough together that no feature of the curves falls between them unseen."""


def example() -> Profile:
    return load_profile("example-direct")


def changed_text(*changes: tuple[str, str]) -> str:
    """Return the example's text with each first string, which must occur once, made the second."""
    text = profile_text("example-direct")[0]
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def changed(*changes: tuple[str, str]) -> Profile:
    return parse_profile(changed_text(*changes), "changed")


def write_changed(path: Path, *changes: tuple[str, str]) -> Path:
    path.write_text(changed_text(*changes))
    return path


def rows(rod_error_mm: float, profile: Profile | None = None) -> list[Opening]:
    return predict_shifts(profile or example(), RodErrorGiven(rod_error_mm), FINE).openings

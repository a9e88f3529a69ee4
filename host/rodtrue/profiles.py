"""Reading profiles: shipped ones by name, a user's own by path. Every refusal names file and field."""

from __future__ import annotations

import math
import os.path
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec

from rodtrue.bounded import MOST_TOML_CHARACTERS, read_whole, toml_of
from rodtrue.linkage import RODS, LinkageError, linkage_of
from rodtrue.linkage.two_bell_cranks import SET_FIRST
from rodtrue.model.errors import InputError
from rodtrue.model.profile import Profile
from rodtrue.profile_fields import field_and_problem, line_of, unknown_field
from rodtrue.resources import room
from rodtrue.shifts.soundness import first_problem

PROFILE_SCHEMA = "rodtrue.profile/1"
DEFAULT_PROFILE = "example-direct"
FARTHEST_MM = 10_000.0
"""No pin or pivot of a throttle linkage lies farther from another."""


def shipped_profiles() -> list[str]:
    """Return the names of the profiles that come with the program, sorted."""
    folder = room("shared") / "profiles"
    return sorted(entry.name.removesuffix(".toml") for entry in folder.iterdir() if entry.name.endswith(".toml"))


def profile_text(name_or_path: str) -> tuple[str, str]:
    """Return a profile's TOML text and where it was found.

    Raises: InputError where there is no such profile or it cannot be read.
    """
    if name_or_path in shipped_profiles():
        return (room("shared") / "profiles" / f"{name_or_path}.toml").read_text("utf-8"), name_or_path
    path = _profile_file(name_or_path)
    if path is None:
        raise InputError(
            f"profile {name_or_path}: not a shipped profile and no such file",
            "Name one of: " + ", ".join(shipped_profiles()) + "; or give the path of a TOML file.",
        )
    try:
        return read_whole(path, 4 * MOST_TOML_CHARACTERS).decode("utf-8"), str(path)
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"profile {path}: cannot be read ({error})", "Give a readable UTF-8 TOML file.") from error


def _profile_file(name_or_path: str) -> Path | None:
    """Return the file of a profile named by its path, with or without `.toml`, None where there is none."""
    path = Path(name_or_path)
    candidates = [path] if path.suffix == ".toml" else [path, Path(f"{name_or_path}.toml")]
    return next((candidate for candidate in candidates if os.path.isfile(candidate)), None)


def load_profile(name_or_path: str = DEFAULT_PROFILE) -> Profile:
    """Return the profile of that name or path, checked.

    Raises: InputError naming the file and the field.
    """
    text, where = profile_text(name_or_path)
    return parse_profile(text, where)


def new_profile_text(name: str, like: str = DEFAULT_PROFILE) -> str:
    """Return the text of a new profile that starts from `like`, named `name`, no longer called an example.

    Raises: InputError: a name that is no plain word, or no such profile to start from.
    """
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name):
        raise InputError(
            f"profile name {name!r}: not a plain word", "Use small letters, digits and single hyphens, as in my-unit."
        )
    load_profile(like)
    lines = []
    for line in profile_text(like)[0].splitlines():
        if line.startswith("name ="):
            line = f'name = "{name}"'
        elif line.startswith("title ="):
            line = f'title = "{name}"'
        elif line.startswith("note ="):
            line = 'note = "Say where these numbers come from."'
        elif line.startswith("# An invented example"):
            lines.append("# Started from an invented example: replace every number from the unit's service")
            line = "# information, then set invented to false."
        lines.append(line)
    return "\n".join(lines) + "\n"


def parse_profile(text: str, where: str) -> Profile:
    """Return the profile written in `text`; `where` names its source in refusals.

    Raises: InputError naming the field, and the line where it stands in the text.
    """
    try:
        raw = toml_of(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"profile {where}: not valid TOML: {error}", "Mend that line and try again.") from error

    def at(field: str) -> str:
        line = line_of(text, field)
        return f"profile {where}" + ("" if line is None else f", line {line}")

    if raw.get("schema") != PROFILE_SCHEMA:
        raise InputError(
            f"{at('schema')}: field schema is {raw.get('schema')!r}, expected {PROFILE_SCHEMA!r}",
            "Start from `rodtrue profile new`.",
        )
    unknown = unknown_field(raw)
    if unknown is not None:
        raise InputError(f"{at(unknown[0])}: unknown field {unknown[0]}", unknown[1])
    try:
        profile = msgspec.convert(_without_nan(raw), Profile)
    except msgspec.ValidationError as error:
        field, problem = field_and_problem(error)
        raise InputError(
            f"{at(field)}: field {field} {problem}" if field else f"profile {where}: {problem}",
            "`rodtrue profile show example-direct` shows every field with its unit.",
        ) from error
    _refuse_nonsense(profile, at)
    return profile


def _without_nan(value: Any) -> Any:
    """TOML has no null; nan in a range stands for no limit on that side."""
    if isinstance(value, dict):
        return {key: _without_nan(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_without_nan(item) for item in value]
    return None if isinstance(value, float) and math.isnan(value) else value


def _refuse_nonsense(profile: Profile, at: Callable[[str], str]) -> None:
    """Refuse values of the right type that no unit can have. at: says in which file and line a field stands."""

    def refuse(field: str, problem: str) -> None:
        raise InputError(f"{at(field)}: field {field} {problem}", "Correct the field and try again.")

    limits = profile.limits
    for name in ("rod_short_mm", "rod_long_mm"):
        value = getattr(limits, name)
        if not (math.isfinite(value) and value > 0):
            refuse(f"limits.{name}", f"is {value}; it must be above 0 (it is a distance either side of exact)")
    for name in (
        "baseline_kpa",
        "slope_kpa_per_mm",
        "full_pressure_kpa",
        "lever_free_travel_mm",
        "friction_mm",
        "return_error_kpa",
        "ripple_kpa",
    ):
        low, high = getattr(limits, name)
        if low is not None and high is not None and low > high:
            refuse(f"limits.{name}", f"is [{low}, {high}]; the lower limit is above the upper one")
    for table in ("instrument", "lever", "thresholds"):
        for name, value in vars(getattr(profile, table)).items():
            if name != "free_mm" and not (math.isfinite(value) and value >= 0):
                refuse(f"{table}.{name}", f"is {value}; it must be a finite number, 0 or more")
    plan = profile.plan
    if not 3 <= plan.least_sweeps <= plan.sweeps <= plan.extended_sweeps:
        refuse("plan", "must keep 3 <= least_sweeps <= sweeps <= extended_sweeps")
    _refuse_linkage(profile, refuse)
    if profile.shifts is not None and (problem := first_problem(profile.shifts)):
        refuse(*problem)


def _refuse_linkage(profile: Profile, refuse: Callable[[str, str], None]) -> None:
    """Refuse adjusters and a geometry that do not fit the layout, or that make no linkage that works."""
    rods = RODS[profile.layout]
    adjusters = [("adjuster", profile.adjuster)]
    adjusters += [(f"set_first[{k}]", adjuster) for k, adjuster in enumerate(profile.set_first)]
    seen: set[str] = set()
    for where, adjuster in adjusters:
        if adjuster.pitch_mm is not None and not 0 < adjuster.pitch_mm < math.inf:
            refuse(f"{where}.pitch_mm", f"is {adjuster.pitch_mm}; it must be above 0")
        if adjuster.rod not in rods:
            refuse(f"{where}.rod", f"is {adjuster.rod!r}; rods of the layout {profile.layout}: {', '.join(rods)}")
        if adjuster.rod in seen:
            refuse(f"{where}.rod", f"is {adjuster.rod!r}, which has an adjuster already")
        seen.add(adjuster.rod)
        if where != "adjuster" and not adjuster.how:
            refuse(f"{where}.how", "is missing; it says what sets this rod before anything is measured")
    if profile.layout == "two-bell-cranks" and SET_FIRST not in [first.rod for first in profile.set_first]:
        refuse("set_first", f"lacks the {SET_FIRST}, which this layout always sets first")
    if profile.layout == "direct" and profile.geometry is not None:
        refuse("geometry", "is for layouts with bell cranks")
    if profile.geometry is not None and _largest(msgspec.to_builtins(profile.geometry)) > FARTHEST_MM:
        too_far = f"holds a place more than {FARTHEST_MM:g} mm off, or a place or angle that is no finite number"
        refuse("geometry", too_far)
    try:
        linkage_of(profile)
    except LinkageError as error:
        refuse("geometry", f"makes no linkage that works: {error}")


def _largest(node: Any) -> float:
    """Return the largest magnitude of the numbers in plain values; infinite where one is no number."""
    if isinstance(node, dict):
        return max((_largest(item) for item in node.values()), default=0.0)
    if isinstance(node, (list, tuple)):
        return max((_largest(item) for item in node), default=0.0)
    if isinstance(node, (int, float)):
        return abs(node) if math.isfinite(node) else math.inf
    return 0.0

"""`rodtrue shifts`: predicted shift points for a profile and a rod error."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rodtrue.cli.predicted import Predicted
from rodtrue.cli.with_unit import LENGTH_HELP

if TYPE_CHECKING:
    from rodtrue.cli.stored_run import StoredRun
    from rodtrue.model.profile import Profile
    from rodtrue.shifts.predict import RodErrorGiven


def register(app: typer.Typer) -> None:
    app.command("shifts", epilog="Example: rodtrue shifts --rod-error -3 --interval 0.2 --plot shifts.png")(shifts)


def shifts(
    file: Annotated[
        Path | None,
        typer.Argument(metavar="RESULT.json", help="A stored result or job to take the rod error from."),
    ] = None,
    profile: Annotated[
        str | None,
        typer.Option(help="A shipped profile or a TOML file; default: the stored result's own, else example-direct."),
    ] = None,
    rod_error: Annotated[
        str | None,
        typer.Option("--rod-error", metavar="LENGTH", help=f"Positive: long. {LENGTH_HELP} Default: exact only."),
    ] = None,
    interval: Annotated[
        str | None, typer.Option("--interval", metavar="LENGTH", help="To within what the rod error is known.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document a run.")] = False,
    plot: Annotated[Path | None, typer.Option(metavar="FILE.png", help="Write a picture too.")] = None,
) -> None:
    """Predict at which speeds the unit shifts between second and third, and what a rod error changes."""
    runs = _from_options(profile, rod_error, interval) if file is None else []
    if file is not None:
        _refuse_two_sources(file, rod_error or interval)
        runs = _from_file(file, profile)
    if plot is not None:
        from rodtrue.cli.shift_plot import write_shift_plot

        write_shift_plot(plot, runs)
    for run in runs:
        if as_json:
            typer.echo(_encode(run))
        else:
            from rodtrue.cli.shift_table import shift_lines

            for line in shift_lines(run):
                typer.echo(line)
    if plot is not None:
        typer.echo(f"Wrote {plot}.", err=True)


def _from_options(profile: str | None, rod_error: str | None, interval: str | None) -> list[Predicted]:
    from rodtrue.cli.with_unit import length_mm, reach_mm
    from rodtrue.model.errors import InputError
    from rodtrue.profiles import DEFAULT_PROFILE, load_profile
    from rodtrue.shifts.predict import RodErrorGiven, predict_shifts

    if rod_error is None and interval is not None:
        raise InputError("--interval: there is no rod error that it could belong to", "Give --rod-error too.")
    given = None
    if rod_error is not None:
        error_mm = length_mm("--rod-error", rod_error)
        reach = None if interval is None else reach_mm("--interval", interval)
        given = RodErrorGiven(error_mm, None if reach is None else (error_mm - reach, error_mm + reach))
    loaded = load_profile(profile or DEFAULT_PROFILE)
    return [Predicted(predict_shifts(loaded, given), loaded)]


def _refuse_two_sources(file: Path, typed: str | None) -> None:
    from rodtrue.model.errors import InputError

    if typed is not None:
        raise InputError(
            f"{file}: it holds the rod error already, and --rod-error or --interval gives another",
            "Give either the stored result or the options.",
        )


def _from_file(file: Path, profile: str | None) -> list[Predicted]:
    from rodtrue.cli.stored_run import read_stored_runs
    from rodtrue.shifts.predict import predict_shifts

    runs = []
    for label, stored in read_stored_runs(file):
        loaded = _profile_of(file, stored, profile)
        prediction = predict_shifts(loaded, _error_of(stored))
        why_none = stored.reason or "it says no more" if prediction.rod_error is None else None
        runs.append(Predicted(prediction, loaded, str(file), label, stored.fixture.kind, why_none))
    return runs


def _profile_of(file: Path, stored: StoredRun, profile: str | None) -> Profile:
    from rodtrue.model.errors import InputError
    from rodtrue.profiles import load_profile, shipped_profiles

    if profile is None and stored.profile not in shipped_profiles():
        raise InputError(
            f"{file}: judged under the profile {stored.profile!r}, which does not come with the program",
            "Name its TOML file with --profile.",
        )
    return load_profile(profile or stored.profile)


def _error_of(stored: StoredRun) -> RodErrorGiven | None:
    from rodtrue.shifts.predict import RodErrorGiven

    error = stored.rod_error
    if error is not None and error.value_mm is not None:
        return RodErrorGiven(error.value_mm, error.interval_mm)
    if error is not None and error.at_most_mm is not None:
        return RodErrorGiven(error.at_most_mm, at_most=True)
    return None


def _encode(run: Predicted) -> bytes:
    import msgspec

    source = {"file": run.file, "run": run.run, "fixture_kind": run.fixture_kind, "reason": run.reason}
    return msgspec.json.encode({**msgspec.to_builtins(run.prediction), "source": source})

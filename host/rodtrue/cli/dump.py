"""`rodtrue dump`: any capture, frame by frame, damaged ones too."""

from __future__ import annotations

import os.path
import textwrap
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rodtrue.cli.wrapped import WIDTH, hanging
from rodtrue.model.counted import counted

INDENT = " " * 20
PAIRS_A_LINE = 5

NOT_IN_CSV = (
    "The CSV does not hold the calibration's uncertainty: judging it uses the profile's half-widths, and the "
    "interval can differ from the capture's own. Judge the capture where there is one."
)

if TYPE_CHECKING:
    import rodtrue_protocol as wire
    from rodtrue.capture.framing import Item
    from rodtrue.capture.reader import Capture


def register(app: typer.Typer) -> None:
    """Add the command to the command line."""
    app.command("dump", epilog="Example: rodtrue dump as-found.capture --csv as-found.csv")(dump)


def dump(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A capture, whole or damaged.")],
    csv: Annotated[Path | None, typer.Option(metavar="OUT", help="Write the samples as CSV instead.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Overwrite a CSV that is there already.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document an item.")] = False,
) -> None:
    """Print a capture item by item: frames as received, the host's entries, what is damaged."""
    from rodtrue.capture.csv_out import write_csv
    from rodtrue.capture.reader import read_capture
    from rodtrue.model.errors import InputError

    capture = read_capture(file)
    if csv is not None:
        if os.path.exists(csv) and not force:  # a name too long is refused where it is written
            raise InputError(f"CSV {csv}: is there already", "Name another file, or overwrite it with --force.")
        samples, calibration = capture.samples(), capture.calibration_state()
        write_csv(samples, csv, calibration, capture.fixture().kind)
        typer.echo(f"{counted(len(samples), 'sample')} written to {csv}", err=as_json)
        if calibration in ("in order", "overdue"):
            typer.echo("\n".join(hanging(NOT_IN_CSV)), err=True)
        return
    if as_json:
        _print_json(capture)
    else:
        _print_lines(capture)


_OWN = {"offset", "kind", "at", "sample", "travel_codes", "pressure_codes"}
"""Fields of a row that a note's own of the same name must not take the place of: an identity has a kind too."""


def _rows(capture: Capture) -> list[tuple[int, dict[str, Any]]]:
    """Return everything in the file by its offset."""
    rows = [(item.offset, _item_row(item)) for item in capture.items]
    rows += [
        (damage.offset, {"kind": "damaged", "bytes": damage.length, "what": damage.why}) for damage in capture.damages
    ]
    return sorted(rows, key=lambda row: row[0])


def _item_row(item: Item) -> dict[str, Any]:
    import msgspec

    from rodtrue.capture.framing import ENTRY, KIND_NAMES, RECEIVED, TEXT

    row: dict[str, Any] = {
        "kind": KIND_NAMES.get(item.kind, f"kind {item.kind}"),
        "at": datetime.fromtimestamp(item.host_time_us / 1e6, UTC).isoformat(timespec="milliseconds"),
        "sample": item.sample_index,
    }
    if item.kind == RECEIVED:
        return {**row, **_frame_row(item.payload)}
    if item.kind == ENTRY:
        said = msgspec.json.decode(item.payload)
        return {**row, **{f"its_{name}" if name in _OWN else name: value for name, value in said.items()}}
    if item.kind == TEXT:
        return {**row, "said": item.payload.decode("utf-8", "replace")}
    return {**row, "bytes": len(item.payload)}


def _frame_row(frame: bytes) -> dict[str, Any]:
    """Return what a received frame says; of a damaged one, what ails it and its bytes."""
    import rodtrue_protocol as wire

    event = next(reversed(wire.Decoder().feed(frame + b"\x00")), None)
    if isinstance(event, wire.SampleBlock):
        codes = event.codes
        return {
            "message": event.NAME,
            "sequence": event.sequence,
            "index": event.index,
            "time_us": event.time_us,
            "period_us": event.period_us,
            "count": event.count,
            "travel_codes": codes[:, 0].tolist(),
            "pressure_codes": codes[:, 1].tolist(),
        }
    if isinstance(event, wire.WireMessage):
        return {"message": event.NAME, "sequence": event.sequence, **_plain_fields(event)}
    if isinstance(event, wire.UnknownMessage):
        return {"message": f"unknown type {event.message_type}", "sequence": event.sequence, "bytes": frame.hex()}
    reason = event.reason if isinstance(event, wire.Refused) else "no frame"
    return {"message": f"refused ({reason})", "bytes": frame.hex()}


def _plain_fields(event: wire.WireMessage) -> dict[str, Any]:
    return {name: value.hex() if isinstance(value, bytes) else value for name, value in event.values().items()}


def _print_json(capture: Capture) -> None:
    import msgspec

    for offset, row in _rows(capture):
        typer.echo(msgspec.json.encode({"offset": offset, **row}))


def _print_lines(capture: Capture) -> None:
    for offset, row in _rows(capture):
        head = f"{offset:>9} {row.pop('kind'):9}"
        if "at" in row:
            head += f" {row.pop('at')[11:23]} sample {row.pop('sample'):>8}"
        travel, pressure = row.pop("travel_codes", None), row.pop("pressure_codes", None)
        told = head + "  " + "  ".join(f"{name}={value}" for name, value in row.items())
        typer.echo(_wrapped(told))
        if travel:
            typer.echo(f"{INDENT}travel/pressure codes:")
            for at in range(0, len(travel), PAIRS_A_LINE):
                pairs = zip(travel[at : at + PAIRS_A_LINE], pressure[at : at + PAIRS_A_LINE], strict=True)
                typer.echo(INDENT + " ".join(f"{t}/{p}" for t, p in pairs))
    typer.echo("\n".join(hanging(_summary(capture))))


def _wrapped(told: str) -> str:
    """Return a row within the width; lines of a text within it, such as a profile's, stay lines."""
    first, *others = told.splitlines()
    lines = textwrap.wrap(first, WIDTH, subsequent_indent=INDENT)
    for line in others:
        lines += textwrap.wrap(line, WIDTH, initial_indent=INDENT, subsequent_indent=INDENT) or [""]
    return "\n".join(lines)


def _summary(capture: Capture) -> str:
    stream = capture.stream
    missing = sum(gap.missing for gap in stream.gaps)
    gaps = "; ".join(f"{gap.missing} before sample {gap.index} at {gap.time_s:.3f} s" for gap in stream.gaps)
    return (
        f"{counted(len(capture.items), 'item')}, "
        f"{counted(len(capture.damages), 'damaged stretch', 'damaged stretches')}, "
        f"{counted(len(stream.index), 'sample')}, {missing} known to be missing"
        + (f": {gaps}" if gaps else "")
        + (
            f"; {counted(stream.left_out_blocks, 'block')} left out: the fixture had begun anew"
            * bool(stream.left_out_blocks)
        )
    )

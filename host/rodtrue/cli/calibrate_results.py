"""What a calibration leaves on the disk: the document, its certificate, the residuals' plot, a copy kept."""

from __future__ import annotations

from pathlib import Path

import typer

from rodtrue.calibration.certificate import certificate_text
from rodtrue.calibration.document import CalibrationDocument
from rodtrue.calibration.files import keep_copy, save_calibration
from rodtrue.cli.calibrate_bench import say
from rodtrue.cli.calibrate_plot import plot_document
from rodtrue.model.errors import InputError
from rodtrue.run.job import cannot_write
from rodtrue.whole_file import write_whole


def write_results(document: CalibrationDocument, folder: Path, port: str) -> None:
    """Show the certificate, write everything into a folder, and say what comes next. Raises: InputError."""
    say("")
    for line in certificate_text(document).splitlines():
        say(line)
    calibration, plot = folder / "calibration.json", folder / "residuals.png"
    written = [calibration, *_write(document, calibration, folder / "certificate.md"), plot]
    plot_document(document, plot)
    for path in written:
        say(f"Written: {path}")
    if document.fixture.kind == "virtual":
        say("Next, measure with it, or judge a capture of this virtual fixture:")
        typer.echo(f"  rodtrue check --port virtual --calibration {calibration}", err=True)
        typer.echo(f"  rodtrue judge CAPTURE --calibration {calibration}", err=True)
    else:
        say("Next:")
        typer.echo(f"  rodtrue calibrate store {calibration} --port {port}", err=True)


def write_again(document: CalibrationDocument, first: Path) -> None:
    """Write a calibration issued again beside its first file, which stays as it is. Raises: InputError."""
    calibration = first.with_name(f"calibration-{document.generation}.json")
    certificate = first.with_name(f"certificate-{document.generation}.md")
    for path in (calibration, certificate):
        if path.exists():
            raise InputError(
                f"{path}: there already",
                f"Store {calibration} if that is what is wanted; or move away what is none of this fixture's.",
            )
    for path in (calibration, *_write(document, calibration, certificate)):
        say(f"Written: {path}")


def _write(document: CalibrationDocument, calibration: Path, certificate: Path) -> list[Path]:
    save_calibration(document, calibration)
    kept = keep_copy(document)
    try:
        write_whole(certificate, certificate_text(document).encode())
    except OSError as error:
        raise cannot_write(certificate, error) from error
    return [kept, certificate]

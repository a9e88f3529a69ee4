"""Calibration documents: kept, read again whatever their age, refused where they cannot be."""

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import rodtrue_protocol as wire
from rodtrue.calibration.certificate import certificate_content, certificate_text, curve_text
from rodtrue.calibration.channel import calibrate_channel
from rodtrue.calibration.files import keep_copy, load_calibration, parse_calibration, save_calibration, stored_path
from rodtrue.calibration.making import make_document
from rodtrue.calibration.points_file import Points
from rodtrue.calibration.record import over_pressure_code, record_of, threshold_kpa
from rodtrue.calibration.standards import VIRTUAL_STANDARDS
from rodtrue.capture.scaling import scaling_of
from rodtrue.judging import read_stored_calibration
from rodtrue.model.errors import InputError

KEPT = Path(__file__).parents[1] / "data" / "calibration"
VERSION_1 = KEPT / "format_version_1.json"


def test_a_document_of_format_version_1_is_still_read() -> None:
    document = load_calibration(VERSION_1)
    assert (document.fixture.kind, document.fixture.unique_id) == ("virtual", "5354554459000001")
    assert (document.done, document.due, document.generation) == ("2026-03-31", "2027-03-31", 1)
    assert len(document.travel.points) == 40 and len(document.pressure.points) == 44
    assert document.travel.curve.coefficients[1] == pytest.approx(125.0, rel=0.02)


def test_a_record_of_layout_1_is_still_read() -> None:
    record = wire.decode_calibration(bytes.fromhex((KEPT / "record_layout_1.hex").read_text().strip()))
    assert record.fixture_id.hex() == "5354554459000001"
    assert (record.done_year, record.due_year) == (2026, 2027)
    assert [channel.degree for channel in record.channels] == [2, 2]


def test_a_document_says_the_same_after_it_was_kept(tmp_path: Path) -> None:
    document = load_calibration(VERSION_1)
    save_calibration(document, tmp_path / "new" / "again.json")
    assert load_calibration(tmp_path / "new" / "again.json") == document


def test_the_kept_fit_is_what_its_points_give() -> None:
    kept = load_calibration(VERSION_1)
    for channel in kept.channels:
        again = calibrate_channel(channel.quantity, channel.points, channel.standard, full_scale=channel.full_scale)
        assert again.curve.coefficients == pytest.approx(channel.curve.coefficients, rel=1e-9)
        assert again.nonlinearity_half_width == pytest.approx(channel.nonlinearity_half_width, rel=1e-6)


def edited(change: Callable[[dict[str, Any]], None]) -> bytes:
    raw = json.loads(VERSION_1.read_text())
    change(raw)
    return json.dumps(raw).encode()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda raw: raw.update(schema="rodtrue.calibration/7"), "reads versions 1 to 1"),
        (lambda raw: raw.update(schema="rodtrue.result/1"), "no calibration document"),
        (lambda raw: raw.update(due="2026-02-30"), "field due"),
        (lambda raw: raw.update(due="2025-01-01"), "field due"),
        (lambda raw: raw.update(generation=0), "field generation"),
        (lambda raw: raw["fixture"].update(unique_id="12"), "field fixture.unique_id"),
        (lambda raw: raw["pressure"].update(unit="psi"), "pressure.unit"),
        (lambda raw: raw.update(travel=raw["pressure"]), "field travel"),
        (lambda raw: raw["travel"]["points"][0].update(code="many"), r"travel.points\[0\].code"),
        (lambda raw: raw["travel"]["points"][3].update(reference=1.0), r"travel.points\[3\] is out of order"),
        (lambda raw: raw["travel"]["curve"]["coefficients"].pop(), "field travel.curve"),
        (lambda raw: raw["travel"].update(scale_half_width=-1.0), "half-width below 0"),
        (lambda raw: raw["travel"]["curve"]["covariance"].pop(), "travel.curve.covariance is no covariance of 3"),
        (lambda raw: raw["travel"]["curve"]["covariance"][1].append(1.0), "travel.curve.covariance is no covariance"),
        (lambda raw: raw["pressure"]["curve"]["covariance"][0].__setitem__(0, -1.0), "pressure.curve.covariance"),
        (lambda raw: raw["pressure"]["curve"]["covariance"][0].__setitem__(1, 1e9), "pressure.curve.covariance"),
        (lambda raw: raw["travel"]["curve"].update(residual_sd=-1.0), "residual deviation below 0"),
        (lambda raw: raw["travel"]["curve"].update(degrees_of_freedom=0), "fewer than 1 degree"),
        (lambda raw: raw["travel"]["curve"]["coefficients"].__setitem__(1, 1e-9), "stands still or turns round"),
    ],
)
def test_what_cannot_be_is_refused_by_file_and_field(change: Callable[[dict[str, Any]], None], says: str) -> None:
    with pytest.raises(InputError, match=says) as refused:
        parse_calibration(edited(change), "shop.json")
    assert "shop.json" in refused.value.message


def test_text_that_is_no_json_is_refused() -> None:
    with pytest.raises(InputError, match="not JSON"):
        parse_calibration(b"{", "shop.json")


def test_the_record_reads_codes_as_the_document_does() -> None:
    document = load_calibration(VERSION_1)
    held = read_stored_calibration(VERSION_1)
    assert (held["fixture_id"], held["done"], held["due"]) == ("5354554459000001", "2026-03-31", "2027-03-31")
    assert held["file"] == str(VERSION_1) and len(held["sha256"]) == 64
    scaling = scaling_of(held)
    for point in document.travel.points:
        assert float(scaling.travel.values(np.array([point.code]))[0]) == pytest.approx(point.reference, abs=0.1)


def test_the_fixture_sounds_just_above_the_threshold_asked_for() -> None:
    document = load_calibration(VERSION_1)
    code = over_pressure_code(document.pressure, 1500.0)
    curve = document.pressure.curve

    def pressure_kpa(code: int) -> float:
        return sum(c * (code / 65536 - curve.r0) ** k for k, c in enumerate(curve.coefficients))

    assert pressure_kpa(code - 1) <= 1500.0 < pressure_kpa(code)
    assert record_of(document).over_pressure_code == 65535


@pytest.mark.parametrize("pressure_kpa", [-1.0, 0.0, 2068.5, 5000.0, float("nan")])
def test_a_threshold_that_the_sensor_cannot_show_is_refused(pressure_kpa: float) -> None:
    document = load_calibration(VERSION_1)
    with pytest.raises(InputError, match="the sensor shows 0 to 2068 kPa"):
        record_of(document, pressure_kpa)


def test_the_threshold_is_read_back_from_the_record() -> None:
    document = load_calibration(VERSION_1)
    told_kpa = threshold_kpa(record_of(document, 1500.0))
    assert told_kpa == pytest.approx(1500.0, abs=0.1)
    assert threshold_kpa(record_of(document)) is None


def test_a_curve_that_does_not_rise_is_not_stored() -> None:
    falling = edited(lambda raw: raw["pressure"]["curve"].update(coefficients=[500.0, -1000.0, 0.0]))
    with pytest.raises(InputError, match="calibration of pressure: its curve does not rise"):
        record_of(parse_calibration(falling, "shop.json"))


def test_a_virtual_certificate_is_marked_and_has_no_signatures() -> None:
    document = load_calibration(VERSION_1)
    content = certificate_content(document)
    assert content["mark"] == "Virtual fixture, not a measurement."
    assert content["signatures"] == []
    assert json.loads(json.dumps(content)) == content
    text = certificate_text(document)
    for said in ("not a measurement", "2026-03-31", "reference value on code ratio", "hysteresis", "| psi |", "| in"):
        assert said in text
    assert "5 to 90 psi" in text and "Not shown to be traceable" not in text


def test_a_boards_certificate_carries_its_traceability_and_signatures() -> None:
    def as_board(raw: dict[str, Any]) -> None:
        raw["fixture"]["kind"] = "board"
        raw["pressure"]["standard"].update(serial="S-7", certificate="C-99", traceability="national standard")

    text = certificate_text(parse_calibration(edited(as_board), "shop.json"))
    for said in ("S-7", "C-99", "national standard", "Calibrated by: ____"):
        assert said in text
    travel, pressure = text.split("## Pressure")
    told = "Not shown to be traceable:** serial number and certificate of this reference not told"
    assert told in " ".join(travel.split()) and "Not shown to be traceable" not in pressure
    assert "not a measurement" not in text


def test_a_certificate_fits_a_terminal_and_writes_a_minus_where_a_coefficient_is_negative() -> None:
    text = certificate_text(load_calibration(VERSION_1))
    assert max(map(len, text.splitlines())) <= 80
    curve = curve_text([1.5, -2.0, -0.25], 0.44)
    assert curve == "1.5 - 2 (r - 0.44) - 0.25 (r - 0.44)^2"
    assert curve_text([-1.5, 2.0], 0.44) == "-1.5 + 2 (r - 0.44)"
    assert "+ -" not in text


def test_points_at_which_the_sensor_never_moved_make_no_calibration() -> None:
    kept = load_calibration(VERSION_1)
    rng = np.random.default_rng(5)
    still = [replace(point, code=13_000.0 + rng.normal(0.0, 0.3)) for point in kept.travel.points]
    points = Points(kept.fixture, travel=still, pressure=kept.pressure.points)
    with pytest.raises(InputError, match=r"travel points: the reading moved .* times as far as the reference"):
        make_document(points, VIRTUAL_STANDARDS, generation=1, done=date(2026, 3, 31))


def test_a_document_has_its_own_place_in_the_data_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("RODTRUE_DATA", str(tmp_path))
    path = stored_path(load_calibration(VERSION_1))
    assert path == tmp_path / "calibrations" / "virtual-5354554459000001-2026-03-31-1.json"


@pytest.mark.parametrize("folder", ["taken", "x" * 300])
def test_a_copy_that_cannot_be_kept_names_the_data_folder_as_what_to_change(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, folder: str
) -> None:
    (tmp_path / "taken").write_text("a file, where the folder should be")
    monkeypatch.setenv("RODTRUE_DATA", str(tmp_path / folder))
    with pytest.raises(InputError, match="cannot be written") as refused:
        keep_copy(load_calibration(VERSION_1))
    assert "RODTRUE_DATA" in refused.value.next_step

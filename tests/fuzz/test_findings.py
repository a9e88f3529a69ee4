"""What fuzzing has found, each kept. Findings in captures are in tests/capture/test_damaged_notes.py."""

from __future__ import annotations

import contextlib
import io
import json
import re
import zipfile
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import msgspec
import pytest

import rodtrue_protocol as wire
from fuzz import corpus_seeds
from fuzz.board_child import BoardChild
from fuzz.hostile_fixture import HostileFixture, sound_record
from link.lines import FakeTime
from records.made_up_jobs import job
from rodtrue.capture.writer import CaptureWriter
from rodtrue.cli.dump import dump
from rodtrue.link.client import Client
from rodtrue.model.errors import FixtureError, InputError
from rodtrue.profiles import parse_profile, profile_text
from rodtrue.records.backup import restore
from rodtrue.records.store import Kept, open_records
from rodtrue.report import read_job, report_pdf
from rodtrue.run.recorder import Recorder


@pytest.mark.parametrize("place", ["1e308", "-1e308", "inf", "1e150"])
def test_a_geometry_beyond_any_vehicle_is_refused_and_not_computed(place: str) -> None:
    text, where = profile_text("example-two-bell-cranks")
    changed, count = re.subn(r"(?m)^(\w*pivot\w*|\w*pin\w*) = \[[-0-9.]+,", rf"\g<1> = [{place},", text, count=1)
    assert count == 1
    with pytest.raises(InputError, match="field geometry holds a place more than 10000 mm off"):
        parse_profile(changed, where)


@pytest.mark.parametrize("arm", ["1e-320", "1e-12", "0.5"])
def test_an_arm_that_no_pin_fits_on_is_refused_and_not_divided_by(arm: str) -> None:
    text, where = profile_text("example-one-bell-crank")
    changed, count = re.subn(r"(?m)^in_arm_mm = [0-9.]+", f"in_arm_mm = {arm}", text)
    assert count == 1
    with pytest.raises(InputError, match="every arm must be 1 mm or longer"):
        parse_profile(changed, where)


@pytest.mark.parametrize("ratio", ["1e-320", "1e-9", "1e300"])
def test_an_axle_ratio_that_no_unit_has_is_refused_and_not_divided_by(ratio: str) -> None:
    text, where = profile_text("example-two-bell-cranks")
    changed, count = re.subn(r"(?m)^axle_ratio = .*$", f"axle_ratio = {ratio}", text)
    assert count == 1
    with pytest.raises(InputError, match=r"field shifts\.governor\.axle_ratio is .*, which no unit has"):
        parse_profile(changed, where)


def test_a_note_with_fields_of_the_names_that_a_dump_uses_is_dumped_beside_them(tmp_path: Path) -> None:
    path = tmp_path / "a.capture"
    with CaptureWriter(path) as writer:
        writer.entry("identity", 3, kind="board", interpreter="x", unique_id="00", at={}, travel_codes=7, sample=[])
        writer.received(b"", 5)
    (note, empty) = _dumped(path, as_json=True)
    assert json.loads(note).items() >= {"kind": "entry", "sample": 3, "its_kind": "board", "its_at": {}}.items()
    assert json.loads(empty)["message"] == "refused (no frame)"
    assert "its_travel_codes=7" in " ".join(_dumped(path, as_json=False))


def _dumped(path: Path, *, as_json: bool) -> list[str]:
    shown = io.TextIOWrapper(io.BytesIO(), "utf-8")
    with contextlib.redirect_stdout(shown):
        dump(path, csv=None, force=False, as_json=as_json)
    shown.seek(0)
    return shown.read().splitlines()


@pytest.mark.parametrize("number", [1e300, 0.0, -125.0], ids=str)
def test_a_stored_calibration_that_no_sensor_has_is_refused_in_words(number: float) -> None:
    peer = HostileFixture(piece=4096)
    sound = wire.decode_calibration(sound_record())
    travel = replace(sound.channels[0], c1=number)
    peer.calibration = wire.encode_calibration(replace(sound, channels=(travel, sound.channels[1])))
    time = FakeTime()
    client = Client(peer, clock=time.clock, wait=time.wait)
    with pytest.raises(FixtureError, match="stored calibration cannot be read: its travel"):
        Recorder(client, client.hello())


def test_a_status_asked_for_while_one_sent_unasked_still_waits_is_answered_once(tmp_path: Path) -> None:
    board = BoardChild(tmp_path)
    try:
        board.say("feed", (wire.encode(wire.Hello(wire.TABLE.digest), 0) + wire.encode(wire.Start(500), 1)).hex())
        board.say("takes", 1)  # the line is slower than the samples: what is to be said waits
        sent = b""
        for number in range(100):
            board.say("send", wire.encode(wire.ReadStatus(), number).hex())
            sent += board.say("pass", 97).sent
    finally:
        board.close()
    statuses = [event for event in wire.Decoder().feed(sent) if isinstance(event, wire.Status)]
    answers = [status.request for status in statuses if status.flags & wire.StatusFlags.ANSWER]
    assert len(answers) > 80
    assert answers == list(range(len(answers)))
    assert len(statuses) > len(answers), "none was sent unasked"


def test_a_backup_whose_caution_lacks_its_code_is_refused_and_nothing_is_put_back(tmp_path: Path) -> None:
    kept = Kept(*_kept_without({"text": "Chock the wheels."}))
    backup = tmp_path / "a.backup"
    jobs = msgspec.json.encode(kept) + b"\n"
    contents = {"schema": "rodtrue.backup/1", "jobs": 1, "jobs_sha256": sha256(jobs).hexdigest(), "captures": {}}
    with zipfile.ZipFile(backup, "w") as archive:
        archive.writestr("jobs.jsonl", jobs)
        archive.writestr("contents.json", json.dumps(contents))
    with open_records(str(tmp_path / "records.sqlite")) as records:
        with pytest.raises(InputError, match="a caution of its as_found run lacks code or text"):
            restore(records, backup, tmp_path / "captures")
        assert records.count() == 0


def _kept_without(caution: dict[str, str]) -> tuple[str, str]:
    """Return a job's document with such a caution, and its digest."""
    document = msgspec.json.encode(job(as_left=False, cautions=[caution])).decode()
    return document, sha256(document.encode()).hexdigest()


def _changed_job(place: tuple[str | int, ...], number: float) -> bytes:
    document = corpus_seeds.job()
    whole = json.loads(json.dumps(document))
    *outer, last = place
    inner = whole
    for name in outer:
        inner = inner[name]
    inner[last] = number
    return json.dumps(whole).encode()


@pytest.mark.parametrize(
    ("place", "said"),
    [
        (("as_found", "plot", "travel_mm", 2), ".as_found.plot.travel_mm[2]"),
        (("as_found", "rod_error", "value_mm"), ".as_found.rod_error.value_mm"),
        (("as_left", "budget", 0, "standard_uncertainty_mm"), ".as_left.budget[0].standard_uncertainty_mm"),
    ],
    ids=lambda part: part if isinstance(part, str) else None,
)
@pytest.mark.parametrize("number", [1.7e308, -1e101, 10**200], ids=["largest", "negative", "whole number"])
def test_a_number_that_no_run_leads_to_is_refused_with_its_place(
    tmp_path: Path, place: tuple[str | int, ...], said: str, number: float
) -> None:
    stored = tmp_path / "job.json"
    stored.write_bytes(_changed_job(place, number))
    with pytest.raises(InputError, match=re.escape(f"a number of more than 1e+100 - at `${said}`")):
        read_job(stored)


@pytest.mark.parametrize("number", [1e99, 5e-324])
def test_a_number_just_within_what_is_read_is_reported(tmp_path: Path, number: float) -> None:
    stored = tmp_path / "job.json"
    stored.write_bytes(_changed_job(("as_found", "characteristics", 1, "expanded_uncertainty"), number))
    assert report_pdf(read_job(stored)).startswith(b"%PDF")
    stored.write_bytes(_changed_job(("as_found", "plot", "travel_mm", 2), number))
    assert report_pdf(read_job(stored)).startswith(b"%PDF")

"""A note that is lost or says nonsense is told: what it said may decide the verdict."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rodtrue.capture.framing import ENTRY, FIRST_LINE, RECEIVED, Item, encode_item
from rodtrue.capture.reader import read_capture
from rodtrue.judging import judge_capture
from rodtrue.model.errors import InputError

SHORT_RUN = Path(__file__).resolve().parents[1] / "fuzz" / "corpus" / "short-run.capture"


def _items() -> list[Item]:
    return list(read_capture(SHORT_RUN).items)


def _is_note(item: Item, **fields: Any) -> bool:
    return item.kind == ENTRY and fields.items() <= json.loads(item.payload).items()


def _written(path: Path, items: list[Item]) -> Path:
    path.write_bytes(FIRST_LINE + b"".join(encode_item(item) for item in items))
    return path


def test_the_short_run_is_read_and_judged_by_its_truth() -> None:
    result = judge_capture(read_capture(SHORT_RUN))
    assert result.verdict == "short"
    assert result.rod_error is not None and result.rod_error.interval_mm is not None
    low, high = result.rod_error.interval_mm
    assert low <= -2.5 <= high


@pytest.mark.parametrize("lost", [{"step": "zero"}, {"entry": "rod_unhooked"}, {"entry": "stage", "stage": "sweeps"}])
def test_a_flipped_bit_in_a_note_forbids_a_verdict_from_what_is_left(tmp_path: Path, lost: dict[str, str]) -> None:
    (note,) = [item for item in _items() if _is_note(item, **lost)]
    data = bytearray(SHORT_RUN.read_bytes())
    data[note.offset + 15] ^= 0x04
    path = tmp_path / "damaged.capture"
    path.write_bytes(data)
    capture = read_capture(path)
    words = f"one of the run's notes is lost; the file is damaged at byte {note.offset}"
    with pytest.raises(InputError, match=words):
        judge_capture(capture)


def test_a_note_cut_out_whole_is_missed_too(tmp_path: Path) -> None:
    left = [item for item in _items() if not _is_note(item, step="zero")]
    with pytest.raises(InputError, match="one of the run's notes is lost"):
        judge_capture(read_capture(_written(tmp_path / "a.capture", left)))


def test_a_damaged_sample_frame_costs_its_samples_and_no_verdict(tmp_path: Path) -> None:
    frames = [item for item in _items() if item.kind == RECEIVED]
    data = bytearray(SHORT_RUN.read_bytes())
    data[frames[5].offset + 60] ^= 0x04
    path = tmp_path / "damaged.capture"
    path.write_bytes(data)
    capture = read_capture(path)
    assert len(capture.gaps) == 1
    assert judge_capture(capture).verdict == "short"


def test_captures_that_do_not_number_their_notes_are_judged_where_they_are_whole(tmp_path: Path) -> None:
    items = []
    for item in _items():
        if item.kind == ENTRY:
            fields = json.loads(item.payload)
            del fields["nth"]
            item = Item(ENTRY, item.host_time_us, item.sample_index, json.dumps(fields).encode())
        items.append(item)
    path = _written(tmp_path / "old.capture", items)
    assert judge_capture(read_capture(path)).verdict == "short"
    path.write_bytes(path.read_bytes()[:-7])
    assert judge_capture(read_capture(path)).verdict == "short"
    data = bytearray(path.read_bytes())
    data[read_capture(path).items[30].offset + 15] ^= 0x04
    path.write_bytes(data)
    with pytest.raises(InputError, match="one of the run's notes is lost"):
        judge_capture(read_capture(path))


def _other_kind(fields: dict[str, Any]) -> None:
    fields["kind"] = "certified"


def _no_name(fields: dict[str, Any]) -> None:
    del fields["entry"]


def _odd_step(fields: dict[str, Any]) -> None:
    fields["step"] = "swept"


def _step_of_no_word(fields: dict[str, Any]) -> None:
    fields["step"] = None


def _text_for_sweeps(fields: dict[str, Any]) -> None:
    fields["sweeps"] = "six"


def _half_a_calibration(fields: dict[str, Any]) -> None:
    fields["calibration"] = {"fixture_id": "00", "due": None, "channels": [{}]}


@pytest.mark.parametrize(
    ("note", "change", "words"),
    [
        ("identity", _other_kind, "identity: Invalid enum value 'certified'"),
        ("identity", _no_name, "is no note"),
        ("step", _odd_step, "step: Invalid enum value 'swept'"),
        ("step", _step_of_no_word, "step: Expected `str`, got `null`"),
        ("plan", _text_for_sweeps, "plan: Expected `int`, got `str`"),
        ("calibration", _half_a_calibration, "calibration: "),
    ],
)
def test_a_whole_note_that_says_nonsense_is_refused_with_its_place(
    tmp_path: Path, note: str, change: Callable[[dict[str, Any]], None], words: str
) -> None:
    items = _items()
    at = next(k for k, item in enumerate(items) if _is_note(item, entry=note))
    fields = json.loads(items[at].payload)
    change(fields)
    items[at] = Item(ENTRY, items[at].host_time_us, items[at].sample_index, json.dumps(fields).encode())
    with pytest.raises(InputError, match=f"the item at byte [0-9]+ is whole, but {words}"):
        read_capture(_written(tmp_path / "a.capture", items))


@pytest.mark.parametrize("content", [b"", b"[]", b"{", b"\xff", b"[" * 100_000, b'{"entry": 5}'])
def test_a_note_that_is_no_json_object_is_refused(tmp_path: Path, content: bytes) -> None:
    path = _written(tmp_path / "a.capture", [Item(ENTRY, 0, 0, content)])
    with pytest.raises(InputError, match="is no note"):
        read_capture(path)


def test_a_time_that_no_calendar_has_is_refused(tmp_path: Path) -> None:
    items = _items()
    items[0] = Item(items[0].kind, 2**64 - 1, 0, items[0].payload)
    with pytest.raises(InputError, match="beyond the year 9999"):
        read_capture(_written(tmp_path / "a.capture", items))

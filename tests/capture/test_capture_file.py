"""The capture file: nothing lost but what a cut touches, nothing changed, foreign files refused."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.captures import IDENTITY, write_blocks
from rodtrue.capture.framing import ENTRY, FIRST_LINE, RECEIVED, TEXT, Item, encode_item, scan_items
from rodtrue.capture.reader import is_capture, read_capture
from rodtrue.capture.writer import CaptureWriter
from rodtrue.model.errors import InputError


def test_frames_come_back_as_received(tmp_path: Path) -> None:
    frames = write_blocks(tmp_path / "run.capture", [0, 4, 8])
    capture = read_capture(tmp_path / "run.capture")
    assert [item.payload for item in capture.items if item.kind == RECEIVED] == frames
    assert [item.sample_index for item in capture.items if item.kind == RECEIVED] == [0, 4, 8]
    assert capture.damages == []


def test_entries_come_back_with_their_sample_and_host_time(tmp_path: Path) -> None:
    with CaptureWriter(tmp_path / "a.capture", now_us=lambda: 1_700_000_000_123_456) as writer:
        writer.entry("answer", 77, question="rod_unhooked", answer="yes")
    (entry,) = read_capture(tmp_path / "a.capture").entries
    assert (entry.name, entry.sample_index, entry.host_time_us) == ("answer", 77, 1_700_000_000_123_456)
    assert entry.fields == {"question": "rod_unhooked", "answer": "yes"}


def test_a_cut_at_every_byte_leaves_every_whole_item_readable(tmp_path: Path) -> None:
    path = tmp_path / "whole.capture"
    write_blocks(path, [0, 4, 8])
    data = path.read_bytes()
    whole = read_capture(path).items
    ends = [i for i, byte in enumerate(data) if byte == 0]
    cut_path = tmp_path / "cut.capture"
    for cut in range(len(FIRST_LINE), len(data)):
        cut_path.write_bytes(data[:cut])
        capture = read_capture(cut_path)
        expected = sum(end < cut for end in ends)
        assert capture.items == whole[:expected]
        unfinished = cut > len(FIRST_LINE) and cut - 1 not in ends
        assert len(capture.damages) == (1 if unfinished else 0)
        assert capture.samples().time_s.tolist() == pytest.approx(
            [0.002 * k for k in range(4 * max(0, expected - 1))]
        )


def test_a_flipped_bit_costs_the_item_it_touches(tmp_path: Path) -> None:
    path = tmp_path / "flip.capture"
    write_blocks(path, [0, 4, 8])
    data = bytearray(path.read_bytes())
    second_block = read_capture(path).items[2]
    data[second_block.offset + 20] ^= 0x10
    path.write_bytes(data)
    capture = read_capture(path)
    assert [item.sample_index for item in capture.items if item.kind == RECEIVED] == [0, 8]
    assert [damage.offset for damage in capture.damages] == [second_block.offset]
    assert [(gap.index, gap.missing) for gap in capture.gaps] == [(8, 4)]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty, 0 bytes"),
        (FIRST_LINE[:7], "cut off at byte 7, within its first line"),
        (b"time_s,travel_mm\n0,1\n", "byte 0 differs"),
        (FIRST_LINE.replace(b"/1", b"/9") + b"x", "byte 16 differs"),
    ],
    ids=["empty", "header cut", "a CSV", "another version"],
)
def test_what_is_no_capture_is_refused_with_file_and_offset(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "no.capture"
    path.write_bytes(content)
    with pytest.raises(InputError) as refused:
        read_capture(path)
    assert str(path) in refused.value.message
    assert words in refused.value.message
    assert refused.value.next_step


def test_a_missing_capture_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"gone\.capture"):
        read_capture(tmp_path / "gone.capture")


def test_a_capture_is_told_from_another_file_by_its_first_line(tmp_path: Path) -> None:
    write_blocks(tmp_path / "a.capture", [0])
    (tmp_path / "b.csv").write_text("time_s\n")
    assert is_capture(tmp_path / "a.capture")
    assert not is_capture(tmp_path / "b.csv")
    assert not is_capture(tmp_path / "missing")


def test_an_existing_capture_is_never_written_over(tmp_path: Path) -> None:
    path = tmp_path / "a.capture"
    write_blocks(path, [0])
    before = path.read_bytes()
    with pytest.raises(InputError, match="already exists"):
        CaptureWriter(path)
    assert path.read_bytes() == before


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full, the device of a full disk")
def test_a_full_disk_is_said_with_the_file_and_what_to_do(tmp_path: Path) -> None:
    writer = CaptureWriter(tmp_path / "a.capture")
    full = os.open("/dev/full", os.O_WRONLY)
    os.dup2(full, writer._file.fileno())
    os.close(full)
    with pytest.raises(InputError, match=r"a\.capture: cannot be written") as refused:
        writer.entry("note", 0)
    assert "free space" in refused.value.next_step
    writer._file.close()


def test_a_disk_that_fails_at_the_end_is_said_too_and_the_file_is_closed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    writer = CaptureWriter(tmp_path / "a.capture")
    writer.entry("note", 0)

    def fails(_: int) -> None:
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(os, "fsync", fails)
    with pytest.raises(InputError, match=r"a\.capture: cannot be written \(Input/output error\)"):
        writer.close()
    writer.close()
    assert [entry.name for entry in read_capture(tmp_path / "a.capture").entries] == ["note"]


def test_a_kill_in_the_middle_of_writing_leaves_a_readable_capture(tmp_path: Path) -> None:
    path = tmp_path / "killed.capture"
    program = textwrap.dedent(
        """
        import sys
        from pathlib import Path
        from rodtrue.capture.writer import CaptureWriter
        writer = CaptureWriter(Path(sys.argv[1]))
        for number in range(10**9):
            writer.entry("count", number, number=number)
            if number == 500:
                print("going", flush=True)
        """
    )
    with subprocess.Popen([sys.executable, "-c", program, str(path)], stdout=subprocess.PIPE) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == b"going\n"
        child.send_signal(signal.SIGKILL)
    capture = read_capture(path)
    numbers = [entry.fields["number"] for entry in capture.entries]
    assert len(numbers) > 500
    assert numbers == list(range(len(numbers)))
    assert len(capture.damages) <= 1


@settings(max_examples=60)
@given(
    st.lists(
        st.builds(
            Item,
            st.sampled_from([RECEIVED, ENTRY, TEXT]),
            st.integers(0, 2**64 - 1),
            st.integers(0, 2**32 - 1),
            st.binary(max_size=600),
        ),
        max_size=6,
    )
)
def test_any_items_survive_the_framing(items: list[Item]) -> None:
    data = b"".join(encode_item(item) for item in items)
    read = [piece for piece in scan_items(data, 0) if isinstance(piece, Item)]
    strip = [Item(item.kind, item.host_time_us, item.sample_index, item.payload) for item in read]
    assert strip == items


@settings(max_examples=100)
@given(st.binary(max_size=400))
def test_any_bytes_after_the_first_line_are_read_without_an_exception(noise: bytes) -> None:
    for piece in scan_items(noise, 0):
        assert isinstance(piece, Item) or piece.why


def test_the_fixtures_identity_is_copied_never_guessed(tmp_path: Path) -> None:
    write_blocks(tmp_path / "a.capture", [0])
    fixture = read_capture(tmp_path / "a.capture").fixture()
    assert (fixture.kind, fixture.identity) == ("virtual", IDENTITY)
    with CaptureWriter(tmp_path / "b.capture") as writer:
        writer.entry("plan", 0, sweeps=6, extended_sweeps=12)
    with pytest.raises(InputError, match="before the fixture's identity"):
        read_capture(tmp_path / "b.capture").fixture()

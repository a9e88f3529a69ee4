"""`rodtrue capture` and `rodtrue dump`: nothing captured is lost, everything captured can be shown."""

from __future__ import annotations

import json
import signal
import time
from pathlib import Path

from cli.commands import LONGEST_S, rodtrue, running, served_fixture
from rodtrue.capture.reader import read_capture


def _wait_for_samples(path: Path, samples: int) -> None:
    deadline = time.monotonic() + LONGEST_S
    while time.monotonic() < deadline:
        if path.exists() and path.stat().st_size > 18 and len(read_capture(path).stream.index) >= samples:
            return
        time.sleep(0.1)
    raise AssertionError(f"no {samples} samples came")


def test_it_records_for_a_time_and_says_what_it_has(tmp_path: Path) -> None:
    path = tmp_path / "a.capture"
    ended = rodtrue("capture", path, "--port", "virtual", "--seconds", "1", "--json", "--operator", "A. B.")
    assert ended.code == 0
    (line,) = ended.out.splitlines()
    told = json.loads(line)
    capture = read_capture(path)
    assert told == {"file": str(path), "kind": "virtual", "samples": len(capture.stream.index), "missing": 0}
    assert told["samples"] >= 500
    assert capture.last("conditions")["operator"] == "A. B."


def test_a_file_that_exists_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "a.capture"
    path.write_text("mine")
    ended = rodtrue("capture", path, "--port", "virtual", "--seconds", "1")
    assert ended.code == 2
    assert "already exists" in ended.err
    assert path.read_text() == "mine"


def test_ctrl_c_ends_it_well(tmp_path: Path) -> None:
    path = tmp_path / "a.capture"
    with running("capture", path, "--port", "virtual") as process:
        _wait_for_samples(path, 200)
        process.send_signal(signal.SIGINT)
        assert process.wait(LONGEST_S) == 0
    assert read_capture(path).entries[-1].name == "end"


def test_a_kill_leaves_a_readable_capture(tmp_path: Path) -> None:
    path = tmp_path / "a.capture"
    with running("capture", path, "--port", "virtual") as process:
        _wait_for_samples(path, 200)
        process.send_signal(signal.SIGKILL)
        process.wait(LONGEST_S)
    capture = read_capture(path)
    assert len(capture.stream.index) >= 200
    assert len(capture.damages) <= 1
    ended = rodtrue("judge", "--json", path)
    assert ended.code == 0
    assert json.loads(ended.out)["verdict"] == "no result"


def test_a_fixture_unplugged_on_the_way_is_said_and_what_came_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "a.capture"
    with served_fixture("--tcp", "0") as (fixture, port), running("capture", path, "--port", port) as process:
        _wait_for_samples(path, 200)
        fixture.kill()
        assert process.wait(LONGEST_S) == 3
        assert process.stderr is not None
        assert "went away" in process.stderr.read()
    capture = read_capture(path)
    assert len(capture.stream.index) >= 200
    assert capture.last("fixture_lost")
    assert capture.damages == []


def test_dump_shows_every_item_and_what_is_damaged(tmp_path: Path) -> None:
    path = tmp_path / "a.capture"
    rodtrue("capture", path, "--port", "virtual", "--seconds", "0.5")
    capture = read_capture(path)
    block = next(item for item in capture.items if item.kind == 1)
    data = bytearray(path.read_bytes())
    data[block.offset + 25] ^= 1
    path.write_bytes(bytes(data[:-3]))
    ended = rodtrue("dump", path)
    assert ended.code == 0
    assert "checksum differs" in ended.out
    assert "cut off before its end" in ended.out
    assert "message=sample_block" in ended.out
    assert "travel/pressure codes:" in ended.out
    assert "known to be missing: " in " ".join(ended.out.splitlines()[-2:])
    rows = [json.loads(line) for line in rodtrue("dump", "--json", path).out.splitlines()]
    assert [row["kind"] for row in rows].count("damaged") == 2
    assert [row["offset"] for row in rows] == sorted(row["offset"] for row in rows)
    assert len(rows) == len(capture.items)


def test_dump_writes_csv_that_judge_reads(tmp_path: Path) -> None:
    path, csv = tmp_path / "a.capture", tmp_path / "a.csv"
    rodtrue("capture", path, "--port", "virtual", "--seconds", "0.5")
    assert rodtrue("dump", path, "--csv", csv).code == 0
    assert len(csv.read_text().splitlines()) == 1 + len(read_capture(path).stream.index)
    ended = rodtrue("judge", "--json", csv)
    assert ended.code == 0
    assert json.loads(ended.out)["fixture"]["kind"] == "virtual", "what a virtual fixture made stays marked"


def test_dump_refuses_what_is_no_capture(tmp_path: Path) -> None:
    (tmp_path / "x").write_bytes(b"")
    ended = rodtrue("dump", tmp_path / "x")
    assert (ended.code, ended.out) == (2, "")
    assert "empty, 0 bytes" in ended.err

"""Files whole or not at all, under the names and in the places that people give."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from rodtrue.whole_file import write_new_whole, write_whole


def test_a_new_file_replaces_none_and_leaves_nothing_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    write_new_whole(path, b"one")
    with pytest.raises(FileExistsError):
        write_new_whole(path, b"two")
    assert path.read_bytes() == b"one"
    assert list(tmp_path.iterdir()) == [path]


def test_on_a_disk_without_links_a_new_file_still_replaces_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    path = tmp_path / "a.csv"
    write_new_whole(path, b"one")
    with pytest.raises(FileExistsError):
        write_new_whole(path, b"two")
    assert path.read_bytes() == b"one"
    assert list(tmp_path.iterdir()) == [path]


def test_what_a_kill_left_beside_a_name_gives_way_to_the_next_file(tmp_path: Path) -> None:
    path = tmp_path / "job.json"
    (tmp_path / "job.json.part").write_bytes(b"half of")
    write_whole(path, b"whole")
    write_new_whole(tmp_path / "other.json", b"whole")
    assert sorted(each.name for each in tmp_path.iterdir()) == ["job.json", "other.json"]


def test_a_link_stays_a_link_and_what_it_leads_to_is_replaced(tmp_path: Path) -> None:
    target, link = tmp_path / "target.csv", tmp_path / "link.csv"
    target.write_bytes(b"old")
    link.symlink_to(target)
    write_whole(link, b"new")
    assert link.is_symlink() and target.read_bytes() == b"new"


def test_a_pipe_takes_the_content_and_stays_a_pipe(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    try:
        write_whole(pipe, b"through it")
        assert os.read(reader, 100) == b"through it"
    finally:
        os.close(reader)
    assert pipe.is_fifo() and list(tmp_path.iterdir()) == [pipe]


def test_where_the_disk_is_full_the_old_file_stands_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_number: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    path = tmp_path / "job.json"
    write_whole(path, b"old")
    monkeypatch.setattr(os, "fsync", full)
    for write in (write_whole, write_new_whole):
        with pytest.raises(OSError):
            write(path, b"new")
    assert path.read_bytes() == b"old" and list(tmp_path.iterdir()) == [path]


def test_a_link_that_leads_to_itself_is_refused_as_a_disk_refuses(tmp_path: Path) -> None:
    path = tmp_path / "round"
    path.symlink_to(path)
    with pytest.raises(OSError, match="symbolic links"):
        write_whole(path, b"one")
    assert list(tmp_path.iterdir()) == [path]

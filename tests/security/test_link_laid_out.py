"""A link laid where a file stands until it is whole is not written through."""

import pytest

from rodtrue.whole_file import part_of, write_new_whole, write_whole


@pytest.mark.parametrize("write", [write_whole, write_new_whole])
def test_a_link_under_the_passing_name_leads_nobody_elsewhere(write, tmp_path):
    other, path = tmp_path / "other", tmp_path / "job.json"
    other.write_bytes(b"theirs")
    part_of(path).symlink_to(other)
    write(path, b"ours")
    assert (other.read_bytes(), path.read_bytes()) == (b"theirs", b"ours")
    assert not path.is_symlink()
    assert not part_of(path).exists()

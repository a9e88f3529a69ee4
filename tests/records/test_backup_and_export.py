"""Backups are verified, both ways; exports open in a spreadsheet without running anything."""

import csv
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from zipfile import ZipFile

import msgspec
import pytest

from records.made_up_jobs import job
from rodtrue.model.errors import InputError
from rodtrue.model.result import CaptureRef
from rodtrue.records import RunFilter, open_records
from rodtrue.records.backup import back_up, restore
from rodtrue.records.export import export_runs
from rodtrue.whole_file import part_of


def job_with_capture(folder, number):
    path = folder / f"{number}.capture"
    path.write_bytes(b"capture %d" % number)
    ref = CaptureRef(str(path), sha256(path.read_bytes()).hexdigest())
    kept = job(number, as_left=False)
    return replace(kept, as_found=replace(kept.as_found, capture=ref)), path


@pytest.fixture
def filled(tmp_path):
    paths = []
    with open_records(str(tmp_path / "records.sqlite")) as records:
        for number in range(5):
            kept, path = job_with_capture(tmp_path, number)
            records.save(kept, tag="check standard" if number == 2 else None, valve_body_serial=f"S{number}")
            paths.append(path)
        yield records, paths


def test_a_backup_restores_elsewhere_word_for_word(filled, tmp_path):
    records, paths = filled
    done = back_up(records, tmp_path / "all.backup")
    assert (done.jobs, done.captures, done.missing) == (5, 5, [])
    contents = [path.read_bytes() for path in paths]
    for path in paths:
        path.unlink()
    with open_records(str(tmp_path / "other.sqlite")) as other:
        again = restore(other, tmp_path / "all.backup", tmp_path / "back")
        assert (again.jobs, again.already_there, again.missing) == (5, 0, [])
        assert [kept.document for kept in other.kept()] == [kept.document for kept in records.kept()]
        assert list(other.kept()) == list(records.kept())
        assert len(other.runs(RunFilter(tag="check standard"))) == 1
    assert sorted(path.read_bytes() for path in (tmp_path / "back").iterdir()) == sorted(contents)


@pytest.mark.skipif(not Path("/proc/self/mem").exists(), reason="no file here that opens and cannot be read")
def test_a_capture_that_cannot_be_read_is_told_as_missing_and_the_rest_is_backed_up(filled, tmp_path):
    records, _ = filled
    kept = job(9, as_left=False)
    unreadable = CaptureRef("/proc/self/mem", "0" * 64)
    records.save(replace(kept, as_found=replace(kept.as_found, capture=unreadable)))
    done = back_up(records, tmp_path / "all.backup")
    assert (done.jobs, done.captures, done.missing) == (6, 5, ["/proc/self/mem"])


def test_a_backup_restores_into_postgresql(filled, tmp_path, postgresql_database):
    records, _ = filled
    back_up(records, tmp_path / "all.backup")
    with open_records(postgresql_database) as other:
        restore(other, tmp_path / "all.backup", tmp_path / "back")
        assert list(other.kept()) == list(records.kept())


def test_a_capture_named_by_a_relative_path_is_found_from_where_the_run_was_kept(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    kept, path = job_with_capture(tmp_path, 1)
    ref = CaptureRef(path.name, kept.as_found.capture.sha256)
    with open_records(str(tmp_path / "records.sqlite")) as records:
        records.save(replace(kept, as_found=replace(kept.as_found, capture=ref)))
        monkeypatch.chdir("/")
        assert back_up(records, tmp_path / "all.backup").captures == 1


def test_a_backup_of_what_was_restored_has_the_captures_too(filled, tmp_path):
    records, paths = filled
    back_up(records, tmp_path / "first.backup")
    for path in paths:
        path.unlink()
    restore(records, tmp_path / "first.backup", tmp_path / "back")
    done = back_up(records, tmp_path / "second.backup", tmp_path / "back")
    assert (done.captures, done.missing) == (5, [])


def test_a_half_written_capture_is_written_again(filled, tmp_path):
    records, paths = filled
    back_up(records, tmp_path / "all.backup")
    content = paths[0].read_bytes()
    half = tmp_path / "back" / f"{sha256(content).hexdigest()}.capture"
    half.parent.mkdir()
    half.write_bytes(content[:3])
    paths[0].unlink()
    restore(records, tmp_path / "all.backup", half.parent)
    assert half.read_bytes() == content


def test_a_disk_without_links_gets_its_backup_all_the_same(filled, tmp_path, monkeypatch):
    def refuse(*_):
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr("os.link", refuse)
    out = tmp_path / "all.backup"
    assert back_up(filled[0], out).jobs == 5
    with open_records(str(tmp_path / "other.sqlite")) as other:
        assert restore(other, out, tmp_path / "back").jobs == 5
    assert not out.with_name("all.backup.part").exists()


def test_a_backup_with_broken_packing_or_a_job_of_another_age_puts_nothing_back(filled, tmp_path):
    records, _ = filled
    path = tmp_path / "all.backup"
    back_up(records, path)
    with ZipFile(path) as archive:
        entry = archive.getinfo("jobs.jsonl")
        begin = entry.header_offset + 30 + len(entry.filename)
    broken = bytearray(path.read_bytes())
    broken[begin : begin + 40] = b"\xff" * 40
    (tmp_path / "broken.backup").write_bytes(broken)
    strange = next(iter(records.kept()))
    document = strange.document.replace('"verdict":"short"', '"verdict":7')
    lines = (
        msgspec.json.encode(replace(strange, document=document, digest=sha256(document.encode()).hexdigest())) + b"\n"
    )

    def of_another_age(parts, name):
        contents = msgspec.json.decode(parts["contents.json"])
        contents |= {"jobs": 1, "jobs_sha256": sha256(lines).hexdigest()}
        return {**parts, name: lines, "contents.json": msgspec.json.encode(contents)}

    _damaged(path, "jobs.jsonl", of_another_age)
    with open_records(str(tmp_path / "other.sqlite")) as other:
        for bad in (tmp_path / "broken.backup", path):
            with pytest.raises(InputError):
                restore(other, bad, tmp_path / "back")
            assert other.count() == 0


def test_restoring_twice_changes_nothing(filled, tmp_path):
    records, _ = filled
    back_up(records, tmp_path / "all.backup")
    done = restore(records, tmp_path / "all.backup", tmp_path / "back")
    assert (done.jobs, done.already_there) == (0, 5)
    assert records.count() == 5
    assert not (tmp_path / "back").exists()


def test_a_capture_that_changed_is_named_and_left_out(filled, tmp_path):
    records, paths = filled
    paths[0].write_bytes(b"edited")
    paths[1].unlink()
    done = back_up(records, tmp_path / "all.backup")
    assert done.captures == 3
    assert done.missing == [str(paths[0]), str(paths[1])]


def test_a_backup_is_never_written_over(filled, tmp_path):
    (tmp_path / "all.backup").write_text("mine")
    with pytest.raises(InputError, match="already"):
        back_up(filled[0], tmp_path / "all.backup")
    assert (tmp_path / "all.backup").read_text() == "mine"


def _damaged(path, name, change):
    with ZipFile(path) as archive:
        parts = {entry: archive.read(entry) for entry in archive.namelist()}
    parts = change(parts, name)
    with ZipFile(path, "w") as archive:
        for entry, content in parts.items():
            archive.writestr(entry, content)


@pytest.mark.parametrize(
    "which", ["jobs.jsonl", "captures/", "contents.json", "lost capture", "other path", "truncated"]
)
def test_a_damaged_backup_puts_nothing_back(filled, tmp_path, which):
    records, _ = filled
    path = tmp_path / "all.backup"
    back_up(records, path)
    if which == "truncated":
        path.write_bytes(path.read_bytes()[:-40])
    elif which == "lost capture":
        _damaged(path, "captures/", lambda parts, n: {k: v for k, v in parts.items() if not k.startswith(n)})
    elif which == "other path":
        _damaged(path, "contents.json", lambda p, n: {**p, n: p[n].replace(b"captures/", b"../../up", 1)})
    else:
        _damaged(path, which, lambda p, n: {k: v[:-2] + b"xx" if k.startswith(n) else v for k, v in p.items()})
    with open_records(str(tmp_path / "other.sqlite")) as other:
        with pytest.raises(InputError):
            restore(other, path, tmp_path / "back")
        assert other.count() == 0
    assert not (tmp_path / "back").exists()


def test_csv_has_a_line_a_run_with_its_characteristics(filled, tmp_path):
    out = tmp_path / "runs.csv"
    assert export_runs(filled[0], RunFilter(), out) == 5
    rows = list(csv.DictReader(out.read_text().splitlines()))
    assert {row["unit"] for row in rows} == {f"invented unit {i}" for i in range(5)}
    assert {row["slope_kpa_per_mm"] for row in rows} == {"11.1"}
    assert {row["rod_error_mm"] for row in rows} == {"-2.44"}


@pytest.mark.parametrize("text", ["=cmd()", "+1", "-1", "@x", "\tx", "＝x", "＠x", "  =x"])
def test_no_cell_of_a_csv_is_a_formula(tmp_path, text):
    with open_records(str(tmp_path / "records.sqlite")) as records:
        records.save(job(1, unit=text, operator=text, customer=text))
        export_runs(records, RunFilter(), tmp_path / "runs.csv")
    for row in csv.DictReader((tmp_path / "runs.csv").read_text().splitlines()):
        assert {row["unit"], row["operator"], row["customer"]} == {f"'{text}"}
        assert float(row["rod_error_mm"]) in (-2.44, 0.02)


def test_parquet_holds_the_same_table(filled, tmp_path):
    parquet = pytest.importorskip("pyarrow.parquet")
    export_runs(filled[0], RunFilter(), tmp_path / "runs.parquet")
    table = parquet.read_table(tmp_path / "runs.parquet")
    assert table.num_rows == 5
    assert table.column("slope_kpa_per_mm").to_pylist() == [11.1] * 5


def test_an_export_is_never_written_over_and_needs_a_known_ending(filled, tmp_path):
    (tmp_path / "runs.csv").write_text("mine")
    with pytest.raises(InputError, match="already"):
        export_runs(filled[0], RunFilter(), tmp_path / "runs.csv")
    with pytest.raises(InputError, match=r"neither \.csv nor \.parquet"):
        export_runs(filled[0], RunFilter(), tmp_path / "runs.xlsx")


def test_a_link_laid_beside_a_backups_name_is_not_written_through(filled, tmp_path):
    records, _ = filled
    other, path = tmp_path / "other", tmp_path / "all.backup"
    other.write_bytes(b"theirs")
    part_of(path).symlink_to(other)
    back_up(records, path)
    assert other.read_bytes() == b"theirs"
    assert path.is_file() and not path.is_symlink() and not part_of(path).exists()

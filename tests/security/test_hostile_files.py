"""Files made to harm: without end, nested without end, packed to overwhelm, named to lead elsewhere."""

import json
import os
import resource
import subprocess
import sys
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from zipfile import ZIP_DEFLATED, ZipFile

import msgspec
import pytest

from records.made_up_jobs import job
from rodtrue.archive.journal import read_journal
from rodtrue.archive.work import Request, judge_here
from rodtrue.bounded import LONGEST_TOML_LINE, MOST_TOML_CHARACTERS
from rodtrue.calibration.files import load_calibration
from rodtrue.calibration.points_file import read_points
from rodtrue.calibration.standards import load_standards
from rodtrue.capture.csv_file import read_columns, read_samples
from rodtrue.capture.reader import read_capture
from rodtrue.cli.stored_run import read_stored_runs
from rodtrue.judging import CsvAnswers, judge_file
from rodtrue.model.errors import InputError
from rodtrue.model.result import CaptureRef
from rodtrue.profiles import load_profile, profile_text
from rodtrue.records import open_records
from rodtrue.records.backup import back_up, restore
from rodtrue.report import read_job


def judged_among_many(path):
    """Judge a file as one of several, where a refusal is an outcome that names the file's digest."""
    outcome = judge_here(str(path), Request())
    if outcome.refusal is not None:
        raise outcome.refusal


READERS = {
    "judge": lambda path: judge_file(path, None, CsvAnswers()),
    "capture": read_capture,
    "CSV": read_samples,
    "points": read_points,
    "hinge": lambda path: read_columns(path, ["x", "y"]),
    "profile": lambda path: load_profile(str(path)),
    "calibration": load_calibration,
    "standards": load_standards,
    "report": read_job,
    "stored result": read_stored_runs,
}

WITHOUT_END = """
import sys
from pathlib import Path
sys.path[:0] = sys.argv[2:]
from security.test_hostile_files import READERS, judged_among_many
from rodtrue.model.errors import InputError
try:
    {"one of many": judged_among_many, **READERS}[sys.argv[1]](Path("/dev/zero"))
except InputError as error:
    print("refused:", error.message)
"""


def little_memory():
    resource.setrlimit(resource.RLIMIT_AS, (6 << 30, 6 << 30))


@pytest.mark.slow
@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no device here that has no end")
@pytest.mark.parametrize("reader", ["hinge", "points", "profile", "report", "one of many"])
def test_a_file_without_end_is_refused(reader, tmp_path):
    room = [path for path in sys.path if path]
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT_END, reader, *room],
        capture_output=True,
        text=True,
        timeout=300,
        cwd=tmp_path,
        preexec_fn=little_memory,
        env=os.environ | {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"},
    )
    assert done.stdout.startswith("refused:"), done.stderr[-2000:]


@pytest.mark.skipif(not Path("/proc/self/mem").exists(), reason="no file here that opens and cannot be read")
def test_a_file_that_cannot_be_read_is_refused_and_named():
    with pytest.raises(InputError, match="/proc/self/mem: cannot be read"):
        judged_among_many(Path("/proc/self/mem"))


DEEP = {
    "deep.json": "[" * 100_000 + "]" * 100_000,
    "objects.json": '{"a":' * 100_000 + "1" + "}" * 100_000,
    "deep.toml": 'schema = "rodtrue.profile/1"\na = ' + "[" * 30_000 + "]" * 30_000,
    "in_lines.toml": "a = " + "[\n" * 30_000 + "]\n" * 30_000,
    "dotted.toml": ".".join("a" * 30_000) + " = 1",
    "table.toml": "[" + ".".join("a" * 30_000) + "]",
    "deep.csv": "[" * 200_000,
    "unended.csv": "time_s,travel_mm,pressure_kpa,step\n" + '"' + "x" * 200_000,
    "quoted_lines.csv": "x,y\n" + '"' + "x\n" * 200_000,
    "no_utf8.json": "\udcff\udcfe{}",
    "nul.csv": "time_s,travel_mm\x00,pressure_kpa,step\n0,0,0,\n",
    "digits.json": json.dumps({"schema": "rodtrue.calibration/" + "9" * 5000}),
    "number.json": '{"schema": ' + "9" * 100_000 + "}",
    "number.csv": "x,y\n" + "9" * 60_000 + ",1\n",
    "exponent.csv": "x,y\n1e999999999,1\n",
}


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("name", DEEP)
def test_what_is_nested_or_goes_on_without_end_is_refused_in_words(name, reader, tmp_path):
    path = tmp_path / name
    path.write_bytes(DEEP[name].encode("utf-8", "surrogateescape"))
    with pytest.raises(InputError) as refused:
        READERS[reader](path)
    assert len(refused.value.message) < 2100


def test_a_line_nested_without_end_in_what_was_judged_before_is_refused(tmp_path):
    path = tmp_path / "old.jsonl"
    path.write_text(DEEP["deep.json"] + "\n")
    with pytest.raises(InputError, match="line 1"):
        read_journal(path)


def test_a_profile_too_long_is_refused_before_it_is_parsed(tmp_path):
    path = tmp_path / "long.toml"
    text, _ = profile_text("example-direct")
    path.write_text(text + "#" * 80 + "\n")
    assert load_profile(str(path)).name == "example-direct"
    for longer in ("# x\n" * MOST_TOML_CHARACTERS, "#" * (LONGEST_TOML_LINE + 1) + "\n"):
        path.write_text(text + longer)
        with pytest.raises(InputError, match=r"longer than|larger than"):
            load_profile(str(path))


@pytest.mark.parametrize(
    "name",
    ["../../etc/passwd", "/etc/passwd", "a\x00b", "x" * 5000, "\udcff", "con", "", ".", "~", "$HOME", "%s", "-"],
)
def test_a_profile_is_never_found_by_a_name_that_is_none(name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError):
        load_profile(name)


# Backups


def backup_with(tmp_path, change):
    """Write a backup of one job whose parts `change` may alter, made to agree with one another again."""
    path = tmp_path / "made.capture"
    path.write_bytes(b"capture")
    kept = job(1, as_left=False)
    ref = CaptureRef(str(path), sha256(b"capture").hexdigest())
    with open_records(str(tmp_path / "first.sqlite")) as records:
        records.save(replace(kept, as_found=replace(kept.as_found, capture=ref)))
        back_up(records, tmp_path / "good.backup")
    path.unlink()
    with ZipFile(tmp_path / "good.backup") as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    contents, jobs = json.loads(parts.pop("contents.json")), parts.pop("jobs.jsonl")
    jobs = change(contents, jobs, parts) or jobs
    contents["jobs_sha256"] = sha256(jobs).hexdigest()
    with ZipFile(tmp_path / "bad.backup", "w", ZIP_DEFLATED) as archive:
        for name, content in {**parts, "jobs.jsonl": jobs, "contents.json": msgspec.json.encode(contents)}.items():
            archive.writestr(name, content)
    return tmp_path / "bad.backup"


def refused(tmp_path, bad):
    """Try to restore it. Returns what was said; nothing may have been written."""
    inside = tmp_path / "a" / "b"
    inside.mkdir(parents=True)
    with open_records(str(tmp_path / "other.sqlite")) as records:
        before = {path for path in tmp_path.rglob("*") if "sqlite" not in path.name}
        with pytest.raises(InputError) as error:
            restore(records, bad, inside / "back")
        assert list(records.kept()) == []
        assert {path for path in tmp_path.rglob("*") if "sqlite" not in path.name} == before
    return error.value.message


@pytest.mark.parametrize(
    "name",
    ["../../evil", "/etc/evil", "captures/../../../evil.capture", "captures/a/b.capture", "captures/\\..\\e.capture"],
)
def test_a_name_in_a_backup_leads_nowhere_else(name, tmp_path):
    def change(contents, jobs, parts):
        [(own, digest)] = contents["captures"].items()
        parts[name] = parts[own]
        contents["captures"] = {name: digest}

    assert "not what its list" in refused(tmp_path, backup_with(tmp_path, change))


@pytest.mark.parametrize("digest", ["../../evil", "..", "/etc/evil", "", "x" * 300, "A" * 64])
def test_a_digest_in_a_backup_that_is_none_names_no_file(digest, tmp_path):
    def change(contents, jobs, parts):
        contents["captures"] = {f"captures/{digest}.capture": digest}
        parts[f"captures/{digest}.capture"] = b"evil"

    assert "not what its list" in refused(tmp_path, backup_with(tmp_path, change))


def test_a_run_that_names_another_file_as_its_capture_brings_nothing_of_it(tmp_path):
    secret = tmp_path / "secret"
    secret.write_bytes(b"secret")

    def change(contents, jobs, parts):
        kept = json.loads(jobs)
        document = json.loads(kept["document"])
        document["as_found"]["capture"] = {"path": "../secret", "sha256": "../../secret"}
        kept["document"], kept["folder"] = json.dumps(document), str(tmp_path / "x")
        kept["digest"] = sha256(kept["document"].encode()).hexdigest()
        return json.dumps(kept).encode() + b"\n"

    bad = backup_with(tmp_path, change)
    with open_records(str(tmp_path / "other.sqlite")) as records:
        done = restore(records, bad, tmp_path / "back")
        assert len(done.missing) == 1
        assert not (tmp_path / "back").exists()
        back_up(records, tmp_path / "again.backup")
    with ZipFile(tmp_path / "again.backup") as archive:
        assert not [name for name in archive.namelist() if b"secret" in archive.read(name) and "capture" in name]
    assert secret.read_bytes() == b"secret"


@pytest.mark.parametrize("part", ["jobs", "capture", "contents"])
def test_a_backup_packed_to_overwhelm_is_refused_unread(part, tmp_path):
    zeros = b" " * (64 << 20)

    def change(contents, jobs, parts):
        if part == "capture":
            digest = sha256(zeros).hexdigest()
            contents["captures"] = {f"captures/{digest}.capture": digest}
            parts[f"captures/{digest}.capture"] = zeros
        if part == "contents":
            contents["captures"]["x" + zeros.decode()] = ""
        return zeros if part == "jobs" else jobs

    assert "unpack" in refused(tmp_path, backup_with(tmp_path, change))


def test_jobs_nested_without_end_are_refused_in_words(tmp_path):
    for deep in (b'{"document":' + b"[" * 100_000 + b"]" * 100_000 + b"}\n", b"[" * 100_000 + b"\n"):
        folder = tmp_path / str(len(deep))
        folder.mkdir()
        bad = backup_with(folder, lambda contents, jobs, parts, deep=deep: deep)
        assert "not what its list" in refused(folder, bad)

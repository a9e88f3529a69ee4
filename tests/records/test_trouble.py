"""What stands in the way of saving is said in words, and nothing is lost or half-written."""

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from records.made_up_jobs import job
from rodtrue.model.errors import FixtureError, InputError
from rodtrue.records import connecting, open_records

TESTS = Path(__file__).parents[1]


def test_a_locked_database_is_named_as_locked(tmp_path, monkeypatch):
    monkeypatch.setattr(connecting, "WAIT_FOR_OTHERS_S", 0.2)
    file = tmp_path / "records.sqlite"
    with open_records(str(file)) as records:
        records.save(job(1))
        other = sqlite3.connect(file, isolation_level=None)
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(InputError, match="locked by another program"):
            records.save(job(2))
        other.execute("ROLLBACK")
        other.close()
        records.save(job(2))
        assert records.count() == 4


def test_a_database_that_allows_no_writing_is_named_as_read_only(tmp_path):
    file = tmp_path / "records.sqlite"
    open_records(str(file)).close()
    url = f"sqlite:///file:{file}?mode=ro&uri=true"
    with pytest.raises(InputError, match="read-only"), open_records(url) as records:
        records.save(job(1))


FILLED = """
import resource, signal, sys
from records.made_up_jobs import job
from rodtrue.model.errors import InputError
from rodtrue.records import open_records
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
with open_records(sys.argv[1]) as records:
    records.save(job(1))
    size = 160 * 1024
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
    for number in range(2, 200):
        try:
            records.save(job(number))
        except InputError as error:
            print(number, error.message)
            break
"""


def test_a_full_disk_keeps_what_was_saved_before(tmp_path):
    file = tmp_path / "records.sqlite"
    said = _child(FILLED, str(file)).stdout.split(maxsplit=1)
    assert "disk" in said[1]
    with open_records(str(file)) as records:
        assert records.count() == 2 * (int(said[0]) - 1)
        records.save(job(int(said[0])))


def test_a_file_that_is_no_database_is_left_alone(tmp_path):
    file = tmp_path / "notes.sqlite"
    file.write_text("not a database at all, but a shopping list" * 40)
    with pytest.raises(InputError, match="not a database of records"):
        open_records(str(file))
    assert "shopping list" in file.read_text()


def test_a_folder_that_cannot_be_made_is_named(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="cannot be made"):
        open_records(str(tmp_path / "file" / "records.sqlite"))


@pytest.mark.parametrize("url", ["mysql://host/name", "nonsense://", "postgresql:///:::", "postgresql://u@h:abc/x"])
def test_a_url_that_names_nothing_usable_is_refused(url):
    with pytest.raises((InputError, FixtureError)):
        open_records(url)


@pytest.mark.parametrize(
    ("url", "says"),
    [
        ("someone:secret@127.0.0.1:1/records", "no server answers at 127.0.0.1, port 1, while opening the records"),
        ("someone@127.0.0.1:1/records?password=secret", "no server answers at 127.0.0.1, port 1"),
        ("someone:secret@no-such-host.invalid/records", "no computer named no-such-host.invalid is known here"),
    ],
)
def test_a_server_that_is_not_there_is_told_in_plain_words_without_a_password(url, says):
    with pytest.raises(FixtureError) as caught:
        open_records(f"postgresql://{url}")
    told = f"{caught.value.message} {caught.value.next_step}"
    assert says in told and told.startswith("postgresql://someone@")
    for word in ("secret", "psycopg", "***", "sqlalche"):
        assert word not in told


def test_a_database_that_the_server_does_not_have_is_named(postgresql_server):
    url = postgresql_server.new_database()
    with pytest.raises(FixtureError) as caught:
        open_records(url + "_of_another_name")
    assert f"the server has no database {url.rsplit('/')[-1]}_of_another_name" in caught.value.message
    assert "createdb" in caught.value.next_step


def test_a_server_that_goes_away_in_a_save_loses_nothing_else(postgresql_server):
    url = postgresql_server.new_database()
    with open_records(url) as records:
        records.save(job(1))
        with (
            pytest.raises(FixtureError, match="while saving"),
            connecting.trouble_in_words(url, "saving a job"),
            records.writing() as connection,
        ):
            connection.exec_driver_sql("INSERT INTO jobs (digest, saved_at, document) VALUES ('x', 'y', 'z')")
            postgresql_server.stop()
            connection.exec_driver_sql("SELECT 1")
        with pytest.raises(FixtureError):
            records.save(job(2))
        postgresql_server.start()
        records.save(job(2))
        assert records.count() == 4
        assert len(list(records.kept())) == 2


KILLED = """
import sys
from records.made_up_jobs import job
from rodtrue.records import open_records
with open_records(sys.argv[1]) as records:
    for number in range(int(sys.argv[2]), 10_000):
        saved = records.save(job(number))
        print(number, flush=True)
"""


@pytest.mark.slow
def test_a_kill_at_any_moment_loses_at_most_the_unfinished_job(tmp_path):
    file = tmp_path / "records.sqlite"
    open_records(str(file)).close()
    first = 0
    for delay in (0, 1, 2, 3, 5, 8, 13, 21, 34, 55):
        child = _start(KILLED, str(file), str(first))
        told = [int(child.stdout.readline()) for _ in range(1 + delay)]
        child.kill()
        told += [int(line) for line in child.stdout.read().split("\n") if line]
        child.wait()
        child.stdout.close()
        with open_records(str(file)) as records:
            kept = {int(row.unit.split()[-1]) for row in records.runs()}
            assert records.count() == 2 * len(kept)
            assert set(told) <= kept
            assert len(kept) - (max(told) + 1) in (0, 1)
            first = len(kept)
            assert all(len(records.job(row.job).as_found.characteristics) == 4 for row in records.runs())


def _child(program, *words):
    return subprocess.run(
        [sys.executable, "-c", program, *words],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(TESTS)},
        timeout=120,
    )


def _start(program, *words):
    return subprocess.Popen(
        [sys.executable, "-c", program, *words],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(TESTS)},
    )

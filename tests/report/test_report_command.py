"""`rodtrue report`: a file in, a PDF out; anything else is refused with file and field named."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cli.commands import rodtrue
from report.stored import pages, result, short_job
from rodtrue.judging import encode
from rodtrue.model.errors import InputError
from rodtrue.report import read_job


@pytest.fixture
def job_file(tmp_path: Path) -> Path:
    path = tmp_path / "job.json"
    path.write_bytes(encode(short_job(customer="Ann Example")))
    return path


def test_a_stored_job_becomes_a_pdf_beside_it(job_file: Path) -> None:
    ended = rodtrue("report", job_file)
    assert (ended.code, ended.err) == (0, "")
    assert str(job_file.with_suffix(".pdf")) in ended.out
    assert "Ann Example" in pages(job_file.with_suffix(".pdf").read_bytes())[0]


def test_what_is_said_on_the_command_line_stands_in_the_report_and_not_in_the_job(job_file: Path) -> None:
    before = job_file.read_bytes()
    out = job_file.parent / "other.pdf"
    said = ["--customer", "Bob Example", "--notes", "Seen.", "--units", "metric"]
    ended = rodtrue("report", job_file, *said, "--out", out)
    assert ended.code == 0
    told = pages(out.read_bytes())
    assert "Bob Example" in told[0] and "Ann Example" not in " ".join(told)
    assert told[0].index("-4.00") < told[0].index("-0.157")
    assert "Seen." in told[1]
    assert job_file.read_bytes() == before


def test_what_judge_wrote_for_one_file_is_reported(tmp_path: Path) -> None:
    path = tmp_path / "result.json"
    path.write_bytes(encode(result(rod_error_mm=3.0)))
    assert rodtrue("report", path).code == 0
    assert "LONG" in pages(path.with_suffix(".pdf").read_bytes())[0]


def test_results_from_before_new_fields_are_still_read(tmp_path: Path) -> None:
    document = json.loads(encode(short_job()))
    for name in ("customer", "laboratory", "reference", "notes"):
        del document[name]
    for run in ("as_found", "as_left"):
        del document[run]["profile_details"], document[run]["expected_effect"]
    path = tmp_path / "old.json"
    path.write_text(json.dumps(document))
    assert rodtrue("report", path).code == 0


def test_a_folder_that_does_not_exist_is_said(job_file: Path) -> None:
    ended = rodtrue("report", job_file, "--out", job_file.parent / "nowhere" / "a.pdf")
    assert ended.code == 2 and "cannot be written" in ended.err


def test_help_shows_an_example() -> None:
    ended = rodtrue("report", "--help")
    assert ended.code == 0 and "Example: rodtrue report" in ended.out


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "not one JSON document"),
        (b"\xff\xfe", "not one JSON document"),
        (b"{}\n{}", "not one JSON document"),
        (b"[" * 100_000, "not one JSON document"),
        (b"[]", "field schema"),
        (b'{"schema": "other/1"}', "field schema is 'other/1'"),
        (b'{"schema": "rodtrue.job/1"}', "as_found"),
    ],
)
def test_what_is_neither_is_refused(tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "wrong.json"
    path.write_bytes(content)
    ended = rodtrue("report", path)
    assert ended.code == 2
    assert str(path) in ended.err and says in ended.err
    assert not path.with_suffix(".pdf").exists()


def _set(*keys: Any) -> Callable[[dict[str, Any]], None]:
    *way, last, value = keys

    def change(document: dict[str, Any]) -> None:
        place: Any = document
        for key in way:
            place = place[key]
        place[last] = value

    return change


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (_set("as_found", "verdict", "fine"), "as_found.verdict"),
        (_set("as_found", "rod_error", "value_mm", "four"), "as_found.rod_error.value_mm"),
        (_set("as_left", "findings", [{"code": 1}]), "as_left.findings"),
        (_set("as_left", "schema", "rodtrue.result/9"), "as_left.schema"),
        (_set("as_found", "plot", "travel_mm", [1.0]), "as_found.plot"),
        (_set("as_found", "plot", "fit", 0, "travel_mm", [1.0]), "as_found.plot.fit"),
        (_set("as_found", "plot", "fit", [{"direction": "opening"}]), "as_found.plot.fit"),
        (_set("as_found", "taken_at", "yesterday"), "as_found.taken_at"),
        (_set("as_found", "cautions", [{"code": "x"}]), "as_found.cautions[0]"),
        (_set("as_found", "correction", "steps", [{"rod": "x"}]), "as_found.correction.steps"),
        (_set("customer", 12), "customer"),
        (_set("as_left", "checked", [{"item": "x"}]), "as_left.checked[0]"),
        (_set("as_left", "adjusted", {"advised_mm": "far"}), "as_left.adjusted"),
    ],
)
def test_a_wrong_field_is_named(job_file: Path, change: Callable[[dict[str, Any]], None], field: str) -> None:
    document = json.loads(job_file.read_bytes())
    change(document)
    job_file.write_text(json.dumps(document))
    with pytest.raises(InputError) as refused:
        read_job(job_file)
    assert str(job_file) in refused.value.message
    assert f"field {field}" in refused.value.message.replace("`", "")

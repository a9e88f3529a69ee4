"""What people type is shown as they typed it: it is data, and never read as markup, paths or code."""

from __future__ import annotations

from dataclasses import replace

import pytest

from report.stored import pages_of, short_job

HOSTILE = [
    '#read("/etc/passwd")',
    "<script>alert(1)</script>",
    "<b>bold</b> &amp; &lt;",
    "*strong* _emph_ `raw` $x^2$ = title",
    "#set page(width: 1cm)",
    '"] #panic("out") [',
    "\\u{41} \\ // no comment /* nor this */",
    '#import "@preview/x:1.0.0": *',
]


@pytest.mark.parametrize("text", HOSTILE)
def test_it_comes_out_as_it_went_in(text: str) -> None:
    job = short_job(customer=text, laboratory=text, reference=text, notes=text)
    job = replace(job, as_found=replace(job.as_found, unit=text, operator=text, reason=text))
    told = " ".join(pages_of(job))
    assert told.count(" ".join(text.split())) >= 6
    assert "root:" not in told


def test_signs_that_hide_or_turn_words_round_are_left_out() -> None:
    told = " ".join(pages_of(short_job(customer="Ann\u202egnol\u202c\x00\x1b[31m Example")))
    assert "Ann gnol [31m Example" in told


def test_letters_that_the_font_lacks_are_given_by_number() -> None:
    assert "[U+4E2D][U+6587] Привет Ωμέγα" in " ".join(pages_of(short_job(customer="中文 Привет Ωμέγα")))


def test_several_lines_stay_several_lines_on_the_labs_pages() -> None:
    told = pages_of(short_job(notes="first line\nsecond line"))[1]
    assert "first line second line" in told


def test_a_word_of_any_length_stays_on_the_paper() -> None:
    told = " ".join(pages_of(short_job(notes="W" * 900)))
    assert told.replace(" ", "").replace("\u200b", "").count("W" * 900) == 1

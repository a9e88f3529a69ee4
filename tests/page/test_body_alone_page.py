"""A valve body alone, measured from the page: chosen, gone through, its verdict the main word, then kept."""

from __future__ import annotations

from pathlib import Path

import pytest

from bench.study.page_driver import Visitor, page_process
from page.audit import faint_parts, faint_texts, small_targets, unnamed_controls
from page.real_page import chromium
from rodtrue.records import open_records

pytestmark = pytest.mark.slow


def test_a_body_alone_is_chosen_put_right_and_found_again(tmp_path: Path) -> None:
    place = tmp_path / "records.sqlite"
    with page_process(tmp_path / "out", "--port", "virtual", "--records", str(place)) as page, chromium() as browser:
        visitor = Visitor(browser.new_context().new_page(), page.address)
        tab = visitor.tab
        on_bench = tab.get_by_role("group", name="What is on the bench")
        assert not on_bench.is_visible(), "it is a question for a bench alone"
        tab.get_by_label("Bench", exact=False).first.check()
        on_bench.wait_for()
        on_bench.get_by_label("Valve body alone", exact=False).check()
        visitor.begin({"Unit": "body 7", "Valve body's serial number": "VB-7001", "Fault": "low-supply"})
        steps = tab.locator(".rt-step-name").all_inner_texts()
        assert "No rod fitted" in steps and "Put right" in steps
        assert "Unhook the rod" not in steps and "Hook up" not in steps
        assert not tab.get_by_text("Rod scale").count()
        visitor.go_on(lambda: visitor.asked().startswith("Valve body alone"))
        assert tab.get_by_role("button", name="Yes, no rod is fitted").is_visible()
        visitor.go_on(lambda: bool(visitor.verdicts()))
        assert visitor.verdicts() == ["VALVE BODY NONCONFORMING"]
        assert tab.get_by_text("Rod: no result: no curb-idle reference.").first.is_visible()
        assert tab.locator(".rt-verdict").get_by_role("row", name="slope").is_visible(), "each quantity is in view"
        wrong = [*faint_texts(tab), *faint_parts(tab), *unnamed_controls(tab), *small_targets(tab)]
        assert wrong == []
        visitor.go_on(lambda: visitor.asked().startswith("The supply stays off"))
        assert not tab.locator(".rt-how-drawing").count(), "no rod is set"
        visitor.go_on(visitor.is_over)
        assert [word.split()[-1] for word in visitor.verdicts()] == ["NONCONFORMING", "UNDECIDED"]
        tab.get_by_text("Kept as job").or_(tab.get_by_text("Kept: job")).first.wait_for()
        tab.goto(page.address + "history")
        row = tab.locator(".rt-history-row").first
        row.wait_for()
        told = row.inner_text()
        assert "VALVE BODY NONCONFORMING" in told and "measured alone, no rod" in told
        assert "NO RESULT" not in told and "error not determined" not in told
        assert "body 7, serial VB-7001" in told
        tab.get_by_label("Unit", exact=True).fill("vb-70")
        tab.locator(".rt-history-row").first.click()
        assert "body 7, serial VB-7001" in tab.locator("#rt-opened").inner_text()
        wrong = [*faint_texts(tab), *faint_parts(tab), *unnamed_controls(tab), *small_targets(tab)]
        assert wrong == []
    with open_records(str(place)) as records:
        assert {run.valve_body_serial for run in records.runs()} == {"VB-7001"}

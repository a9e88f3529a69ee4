"""Beside a real unit Enter presses no key that safety hangs on. The board here is the virtual one, its firmware made
to call itself a real one."""

from __future__ import annotations

from pathlib import Path

import pytest

from bench.study.page_driver import Visitor, page_process
from page.real_page import chromium
from rodtrue.run.session import default_plant
from rodtrue.virtual.fixture import VirtualFixture
from virtual.bench import firmware_with

pytestmark = pytest.mark.slow


def test_enter_acknowledges_no_caution_beside_a_real_unit(tmp_path: Path) -> None:
    firmware = firmware_with(tmp_path, "reports.py", "board.kind,", "KIND_BOARD,")
    text = (firmware / "reports.py").read_text("utf-8")
    (firmware / "reports.py").write_text("from table import KIND_BOARD\n" + text, "utf-8")
    with (
        VirtualFixture(default_plant(), firmware=firmware) as fixture,
        page_process(tmp_path / "out", "--port", fixture.port) as page,
        chromium() as browser,
    ):
        visitor = Visitor(browser.new_context().new_page(), page.address)
        visitor.press("Begin")
        visitor.tab.wait_for_selector("#rt-asked[data-number]")
        assert visitor.tab.get_by_role("button", name="Understood").is_visible()
        number = visitor.number()
        visitor.tab.locator("#rt-asked").focus()
        visitor.tab.keyboard.press("Enter")
        assert visitor.tab.locator("[data-enter]").count() == 0
        visitor.press("Understood")
        visitor.wait(lambda: visitor.number() != number)

"""The bench page opened to the shop's network: what one who comes over it sees, and what never opens."""

import os
import re
import signal
import subprocess
import sys
import time

import pytest

from bench.study.page_driver import page_process
from page.real_page import chromium, handshake
from rodtrue.page.access import shop_addresses

pytestmark = pytest.mark.slow
PATIENCE_MS = 120_000


def needs_network():
    if not shop_addresses():
        if os.environ.get("RODTRUE_REQUIRE_REAL") == "1":
            pytest.fail("this computer has no network address, and RODTRUE_REQUIRE_REAL=1")
        pytest.skip("this computer has no network address: the page was not looked at over one")


def printed(page, pattern):
    """Return what stands on the line of the terminal that this pattern finds."""
    return next(found.group(1) for line in page.said if (found := re.search(pattern, line)))


def test_over_the_network_one_follows_the_run_and_the_cautions_are_left_to_the_computer_itself(tmp_path):
    needs_network()
    with page_process(tmp_path / "out", "--port", "virtual", "--listen") as page, chromium() as browser:
        code, shop = printed(page, r"code: (\S+)"), printed(page, r"not encrypted: (\S+)")
        guest, laptop = browser.new_context().new_page(), browser.new_context().new_page()
        for tab in (guest, laptop):
            tab.set_default_timeout(PATIENCE_MS)
        guest.goto(shop)
        assert guest.url == f"{shop}enter"
        guest.get_by_label("Access code").fill("AAAA-AAAA")
        guest.keyboard.press("Enter")
        guest.get_by_text("That code is wrong").wait_for()
        guest.get_by_label("Access code").fill(code)
        guest.keyboard.press("Enter")
        guest.get_by_role("button", name="Begin", exact=True).wait_for()
        assert code not in guest.content()

        laptop.goto(page.address)
        laptop.get_by_role("button", name="Begin", exact=True).click()
        for tab in (guest, laptop):
            tab.get_by_text(re.compile("Caution 1 of")).wait_for()
        assert guest.get_by_role("button", name="Understood").count() == 0
        guest.get_by_text(re.compile("at the fixture's own computer")).first.wait_for()
        laptop.get_by_role("button", name="Understood").click()
        guest.get_by_text(re.compile("Caution 2 of")).wait_for()
        assert guest.evaluate("document.documentElement.dataset.live") == "yes"
        page.stop()
        assert code not in page.log.read_text()


def test_the_code_is_shown_on_a_terminal_and_on_the_page_and_written_into_no_file(tmp_path):
    needs_network()
    kept = tmp_path / "kept.txt"
    command = [sys.executable, "-m", "rodtrue", "page", "--no-open", "--http", "0", "--port", "virtual", "--listen"]
    with kept.open("w") as file, chromium() as browser:
        unbuffered = os.environ | {"PYTHONUNBUFFERED": "1"}
        page = subprocess.Popen(command, stdout=file, stderr=file, cwd=tmp_path, env=unbuffered)
        try:
            while "Ctrl-C" not in kept.read_text():
                assert page.poll() is None, kept.read_text()
                time.sleep(0.1)
            laptop = browser.new_page()
            laptop.goto(re.search(r"http://127\S+", kept.read_text()).group())
            laptop.get_by_text("Look on from a tablet or a phone").click()
            laptop.get_by_role("button", name="Show code and picture to scan").click()
            shown = laptop.get_by_text(re.compile(r"Access code: \w{4}-\w{4}"))
            shown.wait_for()
            code = shown.inner_text().rpartition(" ")[2]
        finally:
            page.send_signal(signal.SIGINT)
            page.wait(PATIENCE_MS / 1000)
    assert code not in kept.read_text()
    assert not re.search(r"\b\w{4}-\w{4}\b", kept.read_text())
    assert "shown on the page itself" in kept.read_text()


def test_the_live_picture_is_not_sent_to_another_sites_page_nor_under_another_name(tmp_path):
    with page_process(tmp_path / "out", "--port", "virtual") as page:
        host = page.address.removeprefix("http://").rstrip("/")
        port = int(host.rpartition(":")[2])
        assert handshake(port, f"Host: {host}", f"Origin: http://{host}", path="/live") == 101
        for origin in ("http://evil.example", "null", f"http://localhost:{port}"):
            assert handshake(port, f"Host: {host}", f"Origin: {origin}", path="/live") == 403
        assert handshake(port, f"Host: {host}", path="/live") == 403
        assert handshake(port, "Host: evil.example", "Origin: http://evil.example", path="/live") == 403
        forwarded = "X-Forwarded-For: 127.0.0.1"
        assert handshake(port, f"Host: {host}", f"Origin: http://{host}", forwarded, path="/live") == 403

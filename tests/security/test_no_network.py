"""At run time nothing goes to a network: a demo, a judgement, a report and the page work with loopback alone."""

import os
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from bench.study.page_driver import page_process

pytestmark = pytest.mark.slow

# Python reads `sitecustomize` at its start, in every process begun from here too. An audit hook (PEP 578) sees what
# is asked of sockets, whichever library asks.
LOOPBACK_ONLY = '''
import ipaddress, os, sys

def watch(event, arguments):
    if event in ("socket.connect", "socket.sendto", "socket.sendmsg"):
        address = arguments[1]
    elif event in ("socket.getaddrinfo", "socket.gethostbyname", "socket.gethostbyaddr"):
        address = (arguments[0],)
    else:
        return
    place = address[0] if isinstance(address, tuple) else None
    if place in (None, "localhost", ""):
        return
    try:
        if ipaddress.ip_address(place).is_loopback:
            return
    except ValueError:
        pass
    with open(os.environ["NETWORK_LOG"], "a") as log:
        log.write(f"{event} {place} {sys.argv}\\n")
    raise OSError("no network here")

sys.addaudithook(watch)
open(os.environ["NETWORK_LOG"], "a").close()
'''


@pytest.fixture
def log(tmp_path, monkeypatch):
    """Whatever is started from here on has no network but loopback; what it tries stands in this file."""
    hook = tmp_path / "hook"
    hook.mkdir()
    (hook / "sitecustomize.py").write_text(LOOPBACK_ONLY)
    path = tmp_path / "network.txt"
    before = [os.environ["PYTHONPATH"]] if os.environ.get("PYTHONPATH") else []
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([str(hook), *before]))
    monkeypatch.setenv("NETWORK_LOG", str(path))
    monkeypatch.setenv("RODTRUE_DATA", str(tmp_path / "data"))
    return path


def rodtrue(folder, *arguments):
    command = [sys.executable, "-m", "rodtrue", *arguments]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=600)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_watch_sees_what_it_should(log, tmp_path):
    attempt = "import socket; socket.create_connection(('192.0.2.1', 9), 1)"  # RFC 5737: belongs to nobody
    done = subprocess.run([sys.executable, "-c", attempt], cwd=tmp_path, capture_output=True, text=True, timeout=60)
    assert "no network here" in done.stderr
    assert "192.0.2.1" in log.read_text()


def test_a_demo_a_judgement_and_a_report_need_no_network(log, tmp_path):
    rodtrue(tmp_path, "demo", "--fast", "--out", "out")
    [folder] = (tmp_path / "out").glob("*-demo")
    rodtrue(tmp_path, "judge", str(folder / "as-found.capture"), "--json")
    (folder / "report.pdf").unlink()
    rodtrue(tmp_path, "report", str(folder / "job.json"))
    assert log.read_text() == ""


@pytest.mark.parametrize("listen", [[], ["--listen"]])
def test_the_page_needs_no_network(log, tmp_path, listen):
    with page_process(Path(tmp_path / "page"), "--port", "virtual", *listen) as page:
        with urllib.request.urlopen(page.address, timeout=60) as answer:
            text = answer.read().decode()
        assert "http://" not in text.replace(page.address, "").replace("http://www.w3.org/", "")
        assert "https://" not in text
    tried = log.read_text().splitlines()
    # With --listen the computer is asked for its own name and address; a datagram socket's `connect` sends nothing.
    own = [line for line in tried if "192.0.2.1" in line or line.startswith("socket.getaddrinfo")]
    assert tried == (own if listen else [])

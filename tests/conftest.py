"""No test writes into the records or calibrations of whoever runs it; Ctrl-C reaches what the tests start."""

import signal

import pytest


def pytest_configure():
    # A shell starts what it puts into the background with Ctrl-C ignored, and the programs under test inherit that.
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.fixture(autouse=True, scope="session")
def _own_data_folder(tmp_path_factory):
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("RODTRUE_DATA", str(tmp_path_factory.mktemp("data")))
        yield

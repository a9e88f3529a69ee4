"""No test writes into the records or calibrations of whoever runs it."""

import pytest


@pytest.fixture(autouse=True, scope="session")
def _own_data_folder(tmp_path_factory):
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("RODTRUE_DATA", str(tmp_path_factory.mktemp("data")))
        yield

"""A folder of short CSV captures from the separate generator, one of them not fit to judge."""

import os

import pytest

from separate_generator.capture import write_csv
from separate_generator.catalogue import large_cases


@pytest.fixture(scope="session")
def archive(tmp_path_factory):
    """Six captures and one file that is refused; its name sorts in the middle."""
    folder = tmp_path_factory.mktemp("archive")
    (folder / "deeper").mkdir()
    for number, case in enumerate(large_cases(6, first_seed=77_000)):
        write_csv(case, folder / ("deeper" if number > 3 else "") / f"run{number}.csv")
    (folder / "run2x.csv").write_text("time_s,travel_mm,pressure_kpa\n0,1,two\n")
    (folder / "notes.txt").write_text("not a capture")
    return folder


@pytest.fixture(scope="session")
def two_workers():
    """A real dask scheduler and two worker processes on loopback; its address."""
    try:
        from distributed import LocalCluster
    except ModuleNotFoundError:
        why = "dask is not installed (pip install 'rodtrue[dask]'); judging on a cluster is untested here"
        if os.environ.get("RODTRUE_REQUIRE_REAL") == "1":
            pytest.fail(why)
        pytest.skip(why)
    import dask

    with (
        dask.config.set({"distributed.worker.daemon": False}),
        LocalCluster(n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=":0") as cluster,
    ):
        yield cluster.scheduler_address

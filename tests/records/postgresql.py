"""A real PostgreSQL server on loopback in a folder of its own."""

from __future__ import annotations

import os
import secrets
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from one_free_port import free_port


@dataclass
class Server:
    """A running cluster; `stop` and `start` for the tests that pull it away."""

    folder: Path
    programs: Path
    port: int

    def start(self) -> None:
        options = (
            f"-p {self.port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={self.folder} -c fsync=off"
        )
        self._run(
            "pg_ctl", "-D", str(self.folder / "data"), "-w", "-l", str(self.folder / "log"), "-o", options, "start"
        )

    def stop(self) -> None:
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-w", "-m", "immediate", "stop")

    def new_database(self) -> str:
        name = f"records_{secrets.token_hex(4)}"
        self._run("createdb", "-h", "127.0.0.1", "-p", str(self.port), "-U", "rodtrue", name)
        return f"postgresql://rodtrue@127.0.0.1:{self.port}/{name}"

    def initialise(self) -> None:
        self._run(
            "initdb", "-D", str(self.folder / "data"), "-U", "rodtrue", "-A", "trust", "-E", "UTF8", "--no-sync"
        )

    def _run(self, program: str, *words: str) -> None:
        command = [str(self.programs / program), *words]
        if os.geteuid() == 0:  # the server refuses to run as root
            command = ["runuser", "-u", "postgres", "--", *command]
        subprocess.run(
            command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, cwd=self.folder, timeout=60
        )


def installed_programs() -> Path | None:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if found:
        return found[-1].parent
    on_path = shutil.which("initdb")
    return Path(on_path).parent if on_path else None


@contextmanager
def running_server(programs: Path) -> Iterator[Server]:
    """Run a new server for a while."""
    folder = Path(tempfile.mkdtemp(prefix="records-"))
    if os.geteuid() == 0:
        shutil.chown(folder, "postgres")
    server = Server(folder, programs, free_port())
    try:
        server.initialise()
        server.start()
        yield server
        server.stop()
    finally:
        shutil.rmtree(folder, ignore_errors=True)

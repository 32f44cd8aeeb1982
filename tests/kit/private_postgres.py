"""A private PostgreSQL server for tests: its own folder, user and socket, gone at the end."""

from __future__ import annotations

import contextlib
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path


class PostgresMissing(Exception):
    """There is none here, or it does not start."""


def binaries() -> Path:
    """Return the folder of the newest installed server's programs."""
    found = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/initdb"),
        key=lambda p: int(p.parts[4].split(".")[0]),
    )
    if not found:
        raise PostgresMissing("PostgreSQL is not installed (Debian: postgresql)")
    return found[-1].parent


@contextlib.contextmanager
def private_server() -> Iterator[str]:
    """Run a server and yield the url of an empty database.

    Raises:
        PostgresMissing: It is not installed, or does not start here.
    """
    programs = binaries()
    folder = Path(tempfile.mkdtemp(prefix="station-pg-", dir="/tmp"))
    user: int | None = None
    if os.geteuid() == 0:  # the server refuses to run as root
        try:
            user = pwd.getpwnam("postgres").pw_uid
        except KeyError:
            raise PostgresMissing("there is no user 'postgres' to run it as") from None
        os.chown(folder, user, pwd.getpwuid(user).pw_gid)
    server: subprocess.Popen[bytes] | None = None
    log = (folder.parent / f"{folder.name}.log").open("wb")
    try:
        _run(
            [programs / "initdb", "-D", folder / "data", "-U", "station", "-A", "trust", "-N",
             "--encoding=UTF8", "--locale=C.UTF-8"],
            user, folder,
        )  # fmt: skip
        server = subprocess.Popen(
            [programs / "postgres", "-D", folder / "data", "-k", folder, "-c", "listen_addresses=",
             "-c", "fsync=off", "-c", "shared_buffers=16MB", "-c", "max_connections=20"],
            stdin=subprocess.DEVNULL, stdout=log, stderr=log, user=user, cwd=folder,
        )  # fmt: skip
        _run(
            [programs / "pg_isready", "-h", folder, "-U", "station", "-d", "postgres", "-t", "30"],
            user, folder, tries=100,
        )  # fmt: skip
        yield f"postgresql://station@/postgres?host={folder}"
    finally:
        if server is not None:
            server.terminate()
            try:
                server.wait(20)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()
        log.close()
        Path(log.name).unlink(missing_ok=True)
        shutil.rmtree(folder, ignore_errors=True)


def _run(command: list[object], user: int | None, cwd: Path, tries: int = 1) -> None:
    said = b""
    for _ in range(tries):
        done = subprocess.run(
            [str(part) for part in command], user=user, cwd=cwd, check=False, timeout=120,
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        )  # fmt: skip
        if done.returncode == 0:
            return
        said = done.stdout
        with contextlib.suppress(subprocess.TimeoutExpired):
            subprocess.run(["sleep", "0.1"], timeout=1, check=False)
    raise PostgresMissing(f"{Path(str(command[0])).name}: {said.decode(errors='replace').strip()}")

"""Where the records lie, and that only their owner can read them."""

from __future__ import annotations

import contextlib
import os
import stat
import uuid
from dataclasses import dataclass
from pathlib import Path

from station.errors import DeviceTrouble

DATABASE_FILE = "records.sqlite"
STATION_FILE = "station-id"
SPOOL_FOLDER = "spool"
OWNER_FOLDER = 0o700
OWNER_FILE = 0o600


@dataclass(frozen=True, slots=True)
class Place:
    """The records of a bay."""

    folder: Path
    """The database, where there is no `url`; the spool always."""
    url: str | None = None
    """A PostgreSQL server's database; None: SQLite in the folder."""
    keep_days: int | None = None
    """Older visits are erased; None: kept until somebody erases them."""
    video: bool = False
    """The bay allows films of runners who consented."""

    @property
    def database(self) -> Path:
        """The SQLite file."""
        return self.folder / DATABASE_FILE

    @property
    def spool(self) -> Path:
        """Where visits wait that the database has not taken yet."""
        return self.folder / SPOOL_FOLDER

    def prepare(self) -> str | None:
        """Make the folders, for the owner alone.

        Returns:
            What the user should know: others may look into a folder that was there before.

        Raises:
            DeviceTrouble: They cannot be made or written.
        """
        try:
            made = not self.folder.exists()
            ours = made or self.database.exists() or not any(self.folder.iterdir())
            self.folder.mkdir(mode=OWNER_FOLDER, parents=True, exist_ok=True)
            if ours:
                _close_to_others(self.folder)
            self.spool.mkdir(mode=OWNER_FOLDER, exist_ok=True)
            _close_to_others(self.spool)
            if not os.access(self.folder, os.W_OK | os.X_OK):
                raise PermissionError(13, "no right to write there")
            if not ours and self.folder.stat().st_mode & 0o077:
                return f"{self.folder} can be looked into by others; the records in it cannot"
        except OSError as fault:
            raise DeviceTrouble(
                f"records folder {self.folder}: cannot be used ({fault.strerror or fault}); free "
                "some space, or name another under [records] folder in bay.toml"
            ) from fault
        return None

    def station(self) -> str:
        """Return this folder's own random number; made on the first call.

        Raises:
            OSError: It cannot be written.
        """
        path = self.folder / STATION_FILE
        with contextlib.suppress(FileNotFoundError):
            told = path.read_text(encoding="ascii").strip()
            if told:
                return told
        beside = path.with_name(f"{STATION_FILE}-{uuid.uuid4().hex}")
        with open_owned(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL) as file:
            os.write(file, uuid.uuid4().hex.encode("ascii"))
        try:
            os.link(beside, path)  # whoever is first wins
        except FileExistsError:
            pass
        finally:
            beside.unlink()
        return path.read_text(encoding="ascii").strip()


@contextlib.contextmanager
def open_owned(path: Path, flags: int):  # type: ignore[no-untyped-def]
    """Open a file that only its owner may read, as a descriptor; closed at the end."""
    descriptor = os.open(path, flags | os.O_CLOEXEC, OWNER_FILE)
    try:
        yield descriptor
    finally:
        os.close(descriptor)


def default_folder() -> Path:
    """Return the folder of a user who named none: among the user's own data."""
    base = os.environ.get("XDG_DATA_HOME") or str(Path.home() / ".local" / "share")
    return Path(base) / "landing-station"


def make_place(
    folder: str | None, url: str | None = None, keep_days: int | None = None, video: bool = False
) -> Place:
    """Return the place that a bay's `[records]` names."""
    path = default_folder() if folder is None else Path(folder).expanduser()
    return Place(path.absolute(), url, keep_days, video)


def _close_to_others(folder: Path) -> None:
    if stat.S_IMODE(folder.stat().st_mode) & 0o077:
        folder.chmod(OWNER_FOLDER)

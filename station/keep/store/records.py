"""The records of a bay, opened: visits begin here, are listed, and are erased."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path
from types import TracebackType
from typing import TypeVar

from sqlalchemy import Connection
from sqlalchemy.exc import SQLAlchemyError

from station.errors import BadInput, DeviceTrouble
from station.keep.records_place import Place
from station.keep.store import erasing, housekeeping, listing, people
from station.keep.store.engine import is_damaged, reason, told_place
from station.keep.store.facts import Erased, Runner, VisitLine, VisitStart
from station.keep.store.folders import sessions_below
from station.keep.store.gate import Gate
from station.keep.store.journal import Journal, JournalTaken, path_of
from station.keep.store.visit import Visit, begin_operation
from station.keep.store.writer import VisitWriter

T = TypeVar("T")
PATIENCE_S = 2.0
"""How long a command waits for somebody else's lock."""


class DatabaseAway(DeviceTrouble):
    """The database cannot be asked now; a session goes on without it."""


class Records:
    """Opened records. Used by one thread; close them, or use them in a `with` block."""

    def __init__(self, place: Place, patience_s: float = PATIENCE_S) -> None:
        """Open: the schema is brought up to date, and what was left over is seen to.

        Raises:
            BadInput: The address is none, or the records are of a newer station.
            DeviceTrouble: The folder cannot be used; `DatabaseAway`: the database cannot be asked.
        """
        self.place = place
        notice = place.prepare()
        self.notices: list[str] = [] if notice is None else [notice]
        self._gate = Gate(place, patience_s)
        with self._told():
            self._keep_house()

    def __enter__(self) -> Records:
        """Return itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close."""
        self.close()

    def close(self) -> None:
        """Let the database go; safe to repeat."""
        self._gate.close()

    # --- what there is --------------------------------------------------------------------------

    def runner(self, code: str) -> Runner | None:
        """Return what is kept of a runner; None: the code is not known."""
        return self.read(lambda connection: people.read_runner(connection, code))

    def runners(self) -> list[Runner]:
        """Return every runner, by code."""
        return self.read(people.read_runners)

    def last_dose(self, code: str) -> tuple[float, float, int] | None:
        """Return what a runner's newest visit with a drill came to; None: there is none.

        Returns:
            Seconds of running (rests left out), the fastest belt in m/s, and hops of both feet.
        """
        return self.read(lambda connection: people.last_dose(connection, code))

    def visits(self, wanted: listing.Wanted) -> list[VisitLine]:
        """Return the visits that are wanted."""
        return self.read(lambda connection: listing.list_visits(connection, wanted))

    def count(self, wanted: listing.Wanted) -> int:
        """Return how many visits are wanted, whatever `most` says."""
        return self.read(lambda connection: listing.count_visits(connection, wanted))

    def read(self, ask: Callable[[Connection], T]) -> T:
        """Ask the database; raises DatabaseAway."""
        with self._told():
            return self._gate.read(ask)

    # --- changes --------------------------------------------------------------------------------

    def change_runner(
        self,
        code: str,
        belt_cap_mps: float | people.Unset | None = people.UNSET,
        hops_cap: int | people.Unset | None = people.UNSET,
        video: bool | None = None,
    ) -> None:
        """Enter a runner, or change what is kept; see `people.change_runner`."""
        with self._told():
            self._gate.write(lambda c: people.change_runner(c, code, belt_cap_mps, hops_cap, video))

    def forget(self, code: str, also: tuple[Path, ...] = ()) -> Erased:
        """Erase a runner everywhere: session folders, spool, database.

        Args:
            code: The runner's; one that is not known may still have folders.
            also: Folders to search for sessions of this runner, besides those on record.

        Raises:
            BadInput: A visit of this runner runs now.
            DatabaseAway: The database cannot be asked, or somebody else uses it; what was erased
                until then is gone, the same call goes on.
        """
        wanted = listing.Wanted(runner=code)
        with self._told():
            if any(one.state == "open" for one in self.visits(wanted)):
                raise BadInput(
                    f"{code}: a visit of this runner is not over (or was broken off on another "
                    "computer less than a day ago); end it, then forget the runner"
                )
            numbers = self.read(lambda c: [n for n, *_ in listing.visit_numbers(c, wanted)])
            known = {Path(v.folder).parent for v in self.visits(wanted) if v.folder}
            erased = erasing.erase_visits(self._gate, numbers)
            files, left = list(erased.files), list(erased.left)
            for folder in sorted({f for one in (*known, *also) for f in sessions_below(one, code)}):
                gone, kept = erasing.erase_session_folder(folder, code)
                files += gone
                left += kept
            gone, kept = erasing.erase_spool(housekeeping.spool_files(self.place), code)
            files += gone
            left += kept
            erasing.erase_runner_row(self._gate, code)
            self._gate.close()  # our own connection must not be in the way
            left += erasing.wipe(self.place, PATIENCE_S)
        return Erased(erased.visits, erased.steps, tuple(files), tuple(left))

    # --- within ---------------------------------------------------------------------------------

    def _keep_house(self) -> None:
        gate, place = self._gate, self.place
        gate.read(housekeeping.any_open)  # the database answers, and its schema is the newest
        absorbed, over = housekeeping.absorb(gate, place)
        self.notices += absorbed
        if gate.read(housekeeping.any_open):
            found: list[int] = []
            station = place.station()
            gate.write(
                lambda c: found.append(housekeeping.mark_broken_off(c, place, station, over))
            )
            if found[0]:
                self.notices.append(f"{found[0]} earlier visit(s) had no end: marked as broken off")
        if place.keep_days is not None:
            days = place.keep_days
            numbers = gate.read(lambda connection: housekeeping.too_old(connection, days))
            if numbers:
                erased, told = housekeeping.apply_retention(gate, days, numbers)
                self.notices += [told, *erased.left]

    @contextlib.contextmanager
    def _told(self) -> Iterator[None]:
        """Turn the database's faults into ours."""
        try:
            yield
        except (SQLAlchemyError, OSError) as fault:
            self._gate.close()
            where = f"records database {told_place(self.place)}"
            if is_damaged(fault):
                raise DeviceTrouble(
                    f"{where}: damaged ({reason(fault)}); put it aside or bring a backup back"
                ) from fault
            raise DatabaseAway(
                f"{where}: cannot be used now ({reason(fault)}); see that it runs, has room and "
                "is not in use elsewhere, and try again"
            ) from fault


class Reception:
    """Receives a runner: asks the records what is known, then begins the visit.

    A database that cannot be asked now is only a notice: the visit waits in the spool.
    """

    def __init__(self, place: Place, code: str, patience_s: float = 1.0) -> None:
        """Open the records; may take as long as a database server takes to answer.

        Args:
            place: The bay's records.
            code: The runner's.
            patience_s: How long to wait for a database that is locked.

        Raises:
            BadInput: The address is none, or the records are of a newer station.
            DeviceTrouble: The folder cannot be used, or the database is damaged.
        """
        self.place = place
        self.runner: Runner | None = None
        """What is kept of the runner, caps included; None: the database cannot be asked."""
        self.notices: list[str] = []
        self._away: DatabaseAway | None = None
        try:
            with Records(place, patience_s) as records:
                self.notices += records.notices
                self.runner = records.runner(code) or Runner(code)
        except DatabaseAway as fault:
            self._away = fault
            self.notices.append(f"{fault}. This visit waits in the spool file")

    def begin(self, start: VisitStart) -> Visit:
        """Begin the visit; its writer runs from here on.

        Raises:
            DeviceTrouble: Neither database nor spool can be written.
        """
        notices: list[str] = []
        journal: Journal | None = None
        station = "none"
        try:
            journal = Journal(path_of(self.place.spool, start.uid), make=True)
            station = self.place.station()
        except (OSError, JournalTaken) as fault:
            if self._away is not None and journal is None:
                raise self._away from fault
            notices.append(f"records: the spool file cannot be made ({reason(fault)})")
        writer = VisitWriter(Gate(self.place), journal, begin_operation(start, station))
        writer.start()
        return Visit(start, writer, self.runner, (*self.notices, *notices))


def begin_visit(place: Place, start: VisitStart, patience_s: float = 1.0) -> Visit:
    """Receive a runner and begin the visit at once; see `Reception`."""
    return Reception(place, start.runner, patience_s).begin(start)

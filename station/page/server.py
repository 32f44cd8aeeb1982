"""Serves the page in a thread of its own; nothing listens before `start` and after `stop`."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import threading
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import uvicorn

from station.errors import DeviceTrouble
from station.page.joining import Joining
from station.page.pressing import Presses
from station.page.state import Newest

Visits = Callable[[], Sequence[Mapping[str, str]]]
LONGEST_MESSAGE = 1024
END_S = 1.0
JOIN_S = 4.0


class CoachPageServer:
    """One session's page. `show` and `presses` are the loop's; nothing here waits for a page."""

    def __init__(
        self,
        words: Mapping[str, str],
        visits: Visits,
        clock_s: Callable[[], float],
        host: str,
        port: int,
    ) -> None:
        """Prepare; nothing listens yet.

        Args:
            words: Of the page, by key.
            visits: Gives the visits of the runner on the belt; called in another thread.
            clock_s: A clock that never jumps, for the attempts.
            host: Address to listen at; 0.0.0.0: every network that the machine is in.
            port: 0: any that is free.
        """
        self._words, self._visits = words, visits
        self._host, self._asked_port = host, port
        self._joining = Joining(clock_s)
        self._newest = Newest()
        self._presses = Presses()
        self._socket: socket.socket | None = None
        self._thread: threading.Thread | None = None
        self._server: uvicorn.Server | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._ending: asyncio.Event | None = None
        self._up = threading.Event()
        self._over = False  # asked to stop, perhaps before the server was there
        self.failure: BaseException | None = None
        """What ended the server's thread, if it ended by itself."""

    @property
    def running(self) -> bool:
        """Whether something listens."""
        return self._thread is not None and self._thread.is_alive()

    @property
    def port(self) -> int:
        """Where it listens; the one asked for before that."""
        return self._asked_port if self._socket is None else int(self._socket.getsockname()[1])

    @property
    def code(self) -> str:
        """To be typed on a device that is to join next."""
        return self._joining.code

    @property
    def devices(self) -> int:
        """How many devices have joined."""
        return self._joining.devices

    def start(self) -> None:
        """Listen.

        Raises:
            DeviceTrouble: The port is taken, or may not be used.
        """
        made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            made.bind((self._host, self._asked_port))
            made.listen()
        except OSError as fault:
            made.close()
            raise DeviceTrouble(
                f"coach's page: {self._host}:{self._asked_port} cannot be used "
                f"({fault.strerror}); set another [coach_page] port, or end what listens there"
            ) from None
        self._socket = made
        self._thread = threading.Thread(target=self._run, name="station-page", daemon=True)
        self._thread.start()

    def show(self, state: Mapping[str, Any]) -> None:
        """Give all pages a new state; any thread, never waits."""
        self._newest.put(state)

    def pressed(self) -> tuple[str, ...]:
        """Return what pages have asked for since the last call, as names of keys."""
        return self._presses.take()

    def wait_up(self, timeout_s: float) -> bool:
        """Wait until pages are answered, for at most so long; return whether they are."""
        return self._up.wait(timeout_s)

    def ask_to_stop(self) -> None:
        """Have every page's session ended and nothing listen any more; never waits."""
        self._over = True
        loop, ending = self._loop, self._ending
        if loop is not None and ending is not None:
            with contextlib.suppress(RuntimeError):  # it has ended by itself
                loop.call_soon_threadsafe(ending.set)
        if self._server is not None:
            self._server.should_exit = True

    def stop(self) -> None:
        """Ask to stop and wait for the end, at most some seconds; safe to repeat."""
        self.ask_to_stop()
        if self._thread is not None:
            self._thread.join(JOIN_S)
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    # --- the server's thread --------------------------------------------------------------------

    def _run(self) -> None:
        try:
            asyncio.run(self._serve())
        except BaseException as fault:
            self.failure = fault
        finally:
            self._up.set()

    async def _serve(self) -> None:
        import uvicorn  # here, where the loop does not wait for it

        from station.page.app import Parts, make_app

        self._ending = asyncio.Event()
        self._loop = asyncio.get_running_loop()
        self._newest.serve(self._loop)
        parts = Parts(
            self._joining, self._newest, self._presses, self._words, self._visits, self._ending
        )
        config = uvicorn.Config(
            make_app(parts),
            log_config=None,
            access_log=False,
            lifespan="off",
            ws_max_size=LONGEST_MESSAGE,
            ws="websockets-sansio",
            ws_per_message_deflate=False,  # a state is 2 kB; each page's packing cost the loop
            server_header=False,
            timeout_graceful_shutdown=1,
            timeout_keep_alive=30,
        )
        self._server = uvicorn.Server(config)
        if self._over:  # asked while this thread still imported the server
            self._server.should_exit = True
        self._up.set()
        assert self._socket is not None
        await self._server.serve(sockets=[self._socket])

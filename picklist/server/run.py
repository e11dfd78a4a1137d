"""Open the local page: bind to this computer only, print the link, open the browser, serve until stopped."""

from __future__ import annotations

import os
import secrets
import signal
import socket
import tempfile
import threading
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from html import escape
from pathlib import Path

import uvicorn

from picklist.server.app import make_app
from picklist.server.desk import Desk, clear_left_behind
from picklist.server.front_door import LOOPBACK, FrontDoor, new_door
from picklist.tasks.errors import WrongUse

Say = Callable[[str], None]


def serve(desk: Desk, port: int, say: Say, *, browser: bool) -> None:
    """Serve the pages until stopped. Raises WrongUse when there is no folder or the port is taken."""
    if not desk.folder.is_dir():
        raise WrongUse(f"there is no folder {desk.folder}; make one, or use picklist demo for a hospital to try")
    clear_left_behind()
    with ending_in_order() as ending:
        _serve(desk, port, say, ending, browser=browser)


def _serve(desk: Desk, port: int, say: Say, ending: Ending, *, browser: bool) -> None:
    listener = listen(port)
    try:
        door = new_door(listener.getsockname()[1], lambda: secrets.token_urlsafe(24))
        say(f"picklist is open on this computer, for you alone. If no page opened, use this link:\n{door.start_link}")
        say("Close this window, or press Ctrl+C, to end.")
        with start_page(door) as page:
            if browser:
                threading.Timer(0.3, webbrowser.open, [page.as_uri()]).start()
            ending.run(make_server(desk, door), listener)
    finally:
        listener.close()
        desk.clear()


class Ending:
    """What a signal does: it ends the program, and a server that runs once that has closed.

    Raised into a server's work, an exit would be taken for a failure of one answer, and the page would stay.
    """

    def __init__(self) -> None:
        self._number = 0
        self._server: uvicorn.Server | None = None

    def run(self, server: uvicorn.Server, listener: socket.socket) -> None:
        """Run the server until it is stopped. Raises SystemExit when a signal stopped it."""
        self._server = server
        try:
            server.run(sockets=[listener])
        finally:
            self._server = None
        if self._number:
            raise SystemExit(128 + self._number)

    def hear(self, number: int, _frame: object) -> None:
        """Take a signal."""
        if self._server is None:
            raise SystemExit(128 + number)
        self._number, self._server.should_exit = number, True


@contextmanager
def ending_in_order() -> Iterator[Ending]:
    """Let the signals that end a program end it through what clears up: a closed window, a shutdown, a kill."""
    ending = Ending()
    if threading.current_thread() is not threading.main_thread():  # only there can signals be heard
        yield ending
        return
    names = [signal.Signals[name] for name in ("SIGTERM", "SIGHUP", "SIGBREAK") if hasattr(signal, name)]
    before = {one: signal.signal(one, ending.hear) for one in names}
    try:
        yield ending
    finally:
        for one, former in before.items():
            signal.signal(one, former)


def make_server(desk: Desk, door: FrontDoor) -> uvicorn.Server:
    """The web server for the pages; it is given its socket, so it opens none of its own."""
    config = uvicorn.Config(
        make_app(desk, door),
        log_level="warning",
        access_log=False,
        proxy_headers=False,
        server_header=False,
        date_header=False,
        lifespan="off",
        ws="none",
        h11_max_incomplete_event_size=64 << 10,
        timeout_graceful_shutdown=2,
    )
    return uvicorn.Server(config)


def listen(port: int) -> socket.socket:
    """A socket on the loopback address; port 0 is any free one. Raises WrongUse when the port is taken."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if os.name == "posix":  # elsewhere it would let another program share the port
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((LOOPBACK, port))
    except (OSError, OverflowError) as error:
        listener.close()
        raise WrongUse(f"port {port} cannot be used ({error}); leave --port out for a free one") from None
    listener.listen(64)
    return listener


@contextmanager
def start_page(door: FrontDoor) -> Iterator[Path]:
    """A file that only this user can read and that leads to the start link.

    A browser's command line can be read by every user of a computer, so the link with its secret
    does not stand there.
    """
    with tempfile.TemporaryDirectory(prefix="picklist-start-") as folder:
        page = Path(folder) / "open.html"
        link = escape(door.start_link, quote=True)
        page.write_text(
            f'<!doctype html><meta charset="utf-8"><title>picklist</title>'
            f'<meta http-equiv="refresh" content="0;url={link}"><a href="{link}">Open picklist</a>',
            encoding="utf-8",
        )
        with suppress(OSError):
            page.chmod(0o600)
        yield page

"""Sheets that are set while remedies are still sought: those on which nothing waits for them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence, Set
from queue import SimpleQueue
from threading import Event, Thread
from types import TracebackType
from typing import Self

from picklist.documents.pages import Sheet, sheet_digest
from picklist.documents.typesetters import draw_all


class _StoppedError(Exception):
    """Nobody wants the rest any more."""


class SetAhead:
    """Sheets that are set beside other work; afterwards, and when that fails, nothing of it goes on.

    What comes of them counts only for a sheet that is the same in everything that is printed.
    """

    def __init__(self) -> None:
        self.notices: list[str] = []
        self._pdfs: dict[str, bytes] = {}
        self._marks: list[tuple[str, str]] = []  # the file and the digest of each sheet
        self._files: SimpleQueue[str | None] = SimpleQueue()
        self._stopping = Event()
        self._thread: Thread | None = None
        self._told = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stopping.set()
        if self._thread:
            self._thread.join()

    def start(self, sheets: Sequence[Sheet]) -> None:
        """Begin to set these sheets; once only."""
        if sheets:
            self._marks = [(sheet.file, sheet_digest(sheet)) for sheet in sheets]
            self._thread = Thread(target=self._set, args=(sheets,), name="lists ahead", daemon=True)
            self._thread.start()

    @property
    def is_done(self) -> bool:
        """Whether all are set, or setting failed."""
        return self._thread is None or not self._thread.is_alive()

    def pages(self, tell: Callable[[str], None], wanted: Set[str]) -> Mapping[str, bytes]:
        """The PDFs by the digest of their sheets, once all are set.

        ``tell`` gets the file of each sheet whose digest is ``wanted``, the first time.
        Empty where setting failed: whoever sets such a sheet next meets the same failure.
        """
        if self._thread and not self._told:
            own = {file for file, digest in self._marks if digest in wanted}
            while (file := self._files.get()) is not None:
                if file in own:
                    tell(file)
            self._thread.join()
            self._told = True
        return self._pdfs

    def _set(self, sheets: Sequence[Sheet]) -> None:
        def tell(file: str) -> None:
            if self._stopping.is_set():
                raise _StoppedError
            self._files.put(file)

        try:
            pdfs = draw_all(sheets, tell, notice=self.notices.append)
            self._pdfs = {digest: pdf for (_, digest), pdf in zip(self._marks, pdfs, strict=True)}
        except Exception:  # it is met again, and reported, where the sheet is set for the folder
            self._pdfs = {}
        finally:
            self._files.put(None)

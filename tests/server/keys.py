"""Keys pressed in a real Chromium at the times they are said to be pressed, however busy this computer is.

A page tells a scanner from a hand by the time between two keys, and the browser stamps a key when it comes. On a busy
computer that would be the time of the test, so each key carries its own.
"""

from __future__ import annotations

import time
from typing import Any

from playwright.sync_api import Page

BY_HAND = 90  # ms between two keys of somebody who types well
SCANNED = 6  # ms between two characters of a scanner that acts as a keyboard, common practice, no source
NAMED = {"\n": ("Enter", 13, "\r"), "\t": ("Tab", 9, "")}  # name, key code, text


class Keyboard:
    """A hand or a scanner on one page."""

    def __init__(self, page: Page) -> None:
        self._session = page.context.new_cdp_session(page)
        self._last = 0.0

    def type(self, text: str, gap: float) -> None:
        """Press the keys of a text, ``gap`` ms apart; a line feed is Enter and a tab the tab key."""
        self._last = max(time.time() - gap / 1000, self._last)
        for character in text:
            self._last += gap / 1000
            name, code, typed = NAMED.get(character, (character, 0, character))
            key: dict[str, Any] = {"key": name, "windowsVirtualKeyCode": code, "timestamp": self._last}
            self._session.send("Input.dispatchKeyEvent", {"type": "keyDown", "text": typed, **key})
            self._session.send("Input.dispatchKeyEvent", {"type": "keyUp", **key})

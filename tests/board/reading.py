"""Reads a board's HTML without a browser."""

from __future__ import annotations

from html.parser import HTMLParser


class Page(HTMLParser):
    """Collects the tags with their attributes, and the text."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.texts: list[str] = []
        self._inside: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {key: value or "" for key, value in attrs}))
        self._inside.append(tag)

    def handle_endtag(self, tag: str) -> None:
        while self._inside and self._inside.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if self._inside and self._inside[-1] not in ("script", "style"):
            self.texts.append(data.strip())

    def values(self, name: str) -> list[str]:
        """Every value of an attribute, in order."""
        return [attrs[name] for _, attrs in self.tags if name in attrs]

    @property
    def whole(self) -> str:
        return " ".join(text for text in self.texts if text)

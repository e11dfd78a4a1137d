"""A form as a browser would send it untouched."""

from __future__ import annotations

from html.parser import HTMLParser


class _Fields(HTMLParser):
    """Gathers the fields of the forms that post, the buttons left out."""

    def __init__(self) -> None:
        super().__init__()
        self.fields: dict[str, str] = {}
        self._select = ""
        self._posts = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._posts = said.get("method") == "post"
        if not self._posts:
            return
        if tag == "select":
            self._select = said["name"]
        elif tag == "option" and self._select and ("selected" in said or self._select not in self.fields):
            self.fields[self._select] = said.get("value", "")
        elif tag == "input" and "name" in said:
            ticked = said.get("type") in ("checkbox", "radio")
            if not ticked or "checked" in said:
                self.fields[said["name"]] = said.get("value", "on" if ticked else "")

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            self._select = ""


def fields_of(page: str) -> dict[str, str]:
    """Every field of a page's forms with what it holds."""
    reader = _Fields()
    reader.feed(page)
    return reader.fields

"""What is printed, in finished words: a name for each, given where it is worded."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Generic, TypeVar

R = TypeVar("R")


class View:
    """A paper, or a part of one: its attributes are words, numbers, yes or no, and further views.

    A subclass words each of them once, when it is made; only the whole list marks its own lines after that. Two with
    the same words are equal.
    """

    def __eq__(self, other: object) -> bool:
        return type(other) is type(self) and vars(other) == vars(self)

    def __repr__(self) -> str:
        words = ", ".join(f"{name}={value!r}" for name, value in vars(self).items())
        return f"{type(self).__name__}({words})"


class Group(View, Generic[R]):
    """Rows under one heading; without a title where they need none."""

    def __init__(self, title: str, rows: Iterable[R]) -> None:
        self.title = title
        self.rows = tuple(rows)


def as_data(value: Any) -> Any:
    """A view as mappings and lists, as a template and JSON take it."""
    if isinstance(value, View):
        return {name: as_data(one) for name, one in vars(value).items()}
    if isinstance(value, (tuple, list)):
        return [as_data(one) for one in value]
    return value

"""Short words for allocation questions in plain minutes."""

from __future__ import annotations

from picklist.sets.allocation.terms import AllocationQuestion, Copy, Job, Option, Ready


def job(need: int, free: int, *kinds: str, key: str = "", **changes: object) -> Job:
    """A job from ``need``; its set is free again at ``free``. The first kind is the tray asked for."""
    kinds = kinds or ("A",)
    fields: dict[str, object] = {
        "key": key or f"{need}-{free}",
        "need": need,
        "start": need,
        "options": tuple(Option(kind=kind, preference=i) for i, kind in enumerate(kinds)),
        "back": {kind: {"": Ready(usual=free, least=free)} for kind in kinds},
    }
    return Job(**(fields | changes))  # type: ignore[arg-type]


def shelf(kind: str, count: int) -> tuple[Copy, ...]:
    """So many sets on the shelf."""
    there = Ready(usual=-1000, least=-1000, waits=False)
    return tuple(Copy(id=f"{kind}-{n:02d}", kind=kind, first={"": there}) for n in range(1, count + 1))


def question(jobs: list[Job], copies: tuple[Copy, ...], **changes: object) -> AllocationQuestion:
    """A question in which every kind is a tray of its own and nothing is tight."""
    kinds = {copy.kind for copy in copies} | {option.kind for one in jobs for option in one.options}
    fields: dict[str, object] = {
        "jobs": tuple(jobs),
        "copies": copies,
        "pools": {kind: kind for kind in sorted(kinds)},
        "margin": 0,
    }
    return AllocationQuestion(**(fields | changes))  # type: ignore[arg-type]

"""Explain why a thing is on a list, and how many, or why it is not."""

from __future__ import annotations

from picklist.model.needs import CaseNeeds, Need, Reason
from picklist.wording.lists import open_and_hold


def find_needs(case_needs: CaseNeeds, thing: str) -> tuple[Need, ...]:
    """The needs on the list of that id; or else of that name, or with those words in their name."""
    return _find(case_needs.needs, thing)


def find_dropped(case_needs: CaseNeeds, thing: str) -> tuple[Need, ...]:
    """What a card asked for under that id or name, and what is not on the list."""
    return _find(case_needs.dropped, thing)


def explain_need(need: Need) -> tuple[str, ...]:
    """The chain that made a need what it is, a line for each link: words, quantities, place in the input."""
    return tuple(_explain_reason(reason) for reason in need.reasons)


def explain_thing(case_needs: CaseNeeds, thing: str) -> tuple[str, ...]:
    """Everything to be said of a thing asked for: on the list, left out and why, pending, stopped, or unknown."""
    lines: list[str] = []
    for need in find_needs(case_needs, thing):
        lines += (f"{_title(need)}: {open_and_hold(need.open, need.hold)}", *_indented(explain_need(need)))
    for need in find_dropped(case_needs, thing):
        lines += (f"{_title(need)}: not on the list", *_indented(explain_need(need)))
    held = [content for content in case_needs.pack_contents if _fits(content.item, content.name, thing)]
    lines += [f"{content.item} {content.name}: {content.quantity} in the pack" for content in held]
    lines += [f"pending: {p.text} [{p.where}]" for p in case_needs.pending if thing.casefold() in p.text.casefold()]
    if not lines and case_needs.stopped:
        lines.append(f"{thing}: the list of case {case_needs.case} is on hold, so nothing is on it")
    elif not lines:
        lines.append(f"{thing}: no card line in force asks for it for case {case_needs.case}")
    lines += [f"the list is on hold: {p.sentence()} [{p.where}]" for p in case_needs.stopped]
    return tuple(lines)


def _find(needs: tuple[Need, ...], thing: str) -> tuple[Need, ...]:
    exact = tuple(need for need in needs if need.thing.casefold() == thing.strip().casefold())
    return exact or tuple(need for need in needs if _fits(need.thing, need.name, thing))


def _fits(code: str, name: str, asked: str) -> bool:
    words = asked.strip().casefold()
    return bool(words) and (code.casefold() == words or words in name.casefold())


def _title(need: Need) -> str:
    parts = [need.kind.value, need.thing, need.name]
    parts += [need.side.value] if need.side else []
    parts += [f"for {need.person}"] if need.person else []
    return " ".join(parts)


def _explain_reason(reason: Reason) -> str:
    place = f" [{reason.where}]" if reason.where.file else ""
    return f"{reason.text}: {open_and_hold(reason.open, reason.hold)}{place}"


def _indented(lines: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(f"  {line}" for line in lines)

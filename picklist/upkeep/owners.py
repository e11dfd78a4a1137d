"""Whose cards an office keeps: one surgeon's own lines, or the base cards of a service."""

from __future__ import annotations

from dataclasses import dataclass

from picklist.model.site import Site
from picklist.tables.nearest import Candidates, plain

MOST_NAMED = 5  # people who have a word of their names in common, to choose from


@dataclass(frozen=True, slots=True, kw_only=True)
class Owner:
    """A surgeon (by id), or a service, which keeps the base cards of its procedures.

    Exactly one of the two is filled in.
    """

    surgeon: str = ""
    service: str = ""

    @property
    def layer(self) -> str | None:
        """What the column ``surgeon`` of the owner's card lines says; None means every surgeon."""
        return self.surgeon or None


def find_owner(site: Site, written: str) -> Owner | tuple[str, ...]:
    """The owner meant by a surgeon's id or name, or by the name of a service; of none or several the ones to choose.

    An id as it is in Staff comes first, then whole names, then a part of a name that nobody else has. A name that
    several have is never guessed at.
    """
    if written.strip() in site.staff:
        return Owner(surgeon=written.strip())
    wanted = plain(written)
    services = _services(site)
    owners = [Owner(surgeon=one.id) for one in site.staff.values() if wanted in (plain(one.id), plain(one.name))]
    owners += [Owner(service=service) for service in services if wanted == plain(service)]
    if not owners:
        words = {plain(word) for word in written.split()}
        of_name = ((one.id, {plain(word) for word in one.name.split()}) for one in site.staff.values())
        alike = [Owner(surgeon=person) for person, name in of_name if words and words <= name]
        owners = alike if len(alike) <= MOST_NAMED else []
    if len(owners) == 1:
        return owners[0]
    named = {member.id: member.name for member in site.staff.values()} | dict.fromkeys(services, "")
    return tuple(owner_name(site, owner) for owner in owners) or Candidates(named).nearest(written)


def find_procedure(site: Site, written: str) -> str | tuple[str, ...]:
    """The id of the procedure meant by an id or a name; of none or several the ids to choose from."""
    if written.strip() in site.procedures:
        return written.strip()
    wanted = plain(written)
    found = tuple(one.id for one in site.procedures.values() if wanted in (plain(one.id), plain(one.name)))
    if len(found) == 1:
        return found[0]
    return found or Candidates({one.id: one.name for one in site.procedures.values()}).nearest(written)


def owner_name(site: Site, owner: Owner) -> str:
    """The owner as written on a sheet: ``Dr. Quill (S01)`` or ``base cards of General surgery``."""
    if owner.service:
        return f"Base cards of {owner.service}"
    member = site.staff.get(owner.surgeon)
    return f"{member.name} ({member.id})" if member else owner.surgeon


def procedures_of(site: Site, owner: Owner) -> tuple[str, ...]:
    """The procedures whose cards concern an owner, in the order of the table Procedures.

    A surgeon's are those with own lines, and those that the surgeon does or did; a service's are its own.
    """
    if owner.service:
        return tuple(p.id for p in site.procedures.values() if plain(p.service) == plain(owner.service))
    done = {line.procedure for line in site.card_lines if line.surgeon == owner.surgeon and line.procedure}
    for case in site.cases:
        if case.surgeon == owner.surgeon:
            done.update(case.procedures)
    done.update(past.procedure for past in site.past_cases if past.surgeon == owner.surgeon)
    return tuple(procedure for procedure in site.procedures if procedure in done)


def _services(site: Site) -> tuple[str, ...]:
    return tuple(dict.fromkeys(p.service for p in site.procedures.values() if p.service))

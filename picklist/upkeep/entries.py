"""Trays, packs and items as an office picks them: ``Suture 2-0 (100245)``, name beside number."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from picklist.model.cards import ThingKind
from picklist.model.site import Site
from picklist.tables.cells import Fault, Raw, shown, tidy
from picklist.tables.nearest import Candidates, closest, plain

ENTRY = re.compile(r"^(?P<name>.*?)\s*\((?P<number>[^()]+)\)$")
Thing = tuple[ThingKind, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entries:
    """The catalogue as entries. ``listed`` leaves out what is ``retired``; ``names`` hold everything."""

    names: Mapping[Thing, str]
    retired: frozenset[Thing] = frozenset()
    listed: Mapping[ThingKind, tuple[str, ...]]
    by_number: Mapping[str, tuple[Thing, ...]] = field(repr=False)
    by_name: Mapping[str, tuple[Thing, ...]] = field(repr=False)
    _near: list[Candidates] = field(default_factory=list, repr=False)

    def text(self, kind: ThingKind, thing: str) -> str:
        """The entry of a thing; its number alone where the catalogue does not know it."""
        name = self.names.get((kind, thing), "")
        return entry_text(name, thing)

    def nearest(self, written: str) -> tuple[str, ...]:
        """Entries closest to a text, by number or name."""
        if not self._near:
            self._near.append(Candidates({thing: name for (_, thing), name in self.names.items()}))
        found = self._near[0].nearest(written)
        if found:
            return tuple(self.text(*self.by_number[plain(one)][0]) for one in found)
        return self._begun(plain(written)) or self._by_words(written)

    def _begun(self, text: str) -> tuple[str, ...]:
        if len(text) < 3:
            return ()
        things = [thing for name, things in self.by_name.items() if name.startswith(text) for thing in things]
        return tuple(self.text(*thing) for thing in things[:3])

    def _by_words(self, written: str) -> tuple[str, ...]:
        """Entries that have the most of the words, each allowed a slip or two of the keyboard."""
        words = [plain(word) for word in written.split() if len(plain(word)) > 1]
        vocabulary = [(word, word) for word in sorted({w for name in self.names.values() for w in _words(name)})]
        close = [{word for _, word in closest(one, vocabulary)} | {one} for one in words]
        fits = {thing: sum(bool(_words(name) & one) for one in close) for thing, name in self.names.items()}
        best = [thing for thing, score in fits.items() if 2 * score > len(words)]
        best.sort(key=lambda thing: (-fits[thing], len(self.names[thing]), self.names[thing]))
        return tuple(self.text(*thing) for thing in best[:3])


def _words(name: str) -> set[str]:
    return {one for word in name.split() if len(one := plain(word)) > 1}


def entry_text(name: str, thing: str) -> str:
    """Name beside number."""
    return f"{name} ({thing})" if name else thing


def list_entries(site: Site) -> Entries:
    """All things of a site as entries, each kind sorted by name."""
    names: dict[Thing, str] = {(ThingKind.TRAY, tray.id): tray.name for tray in site.trays.values()}
    names |= {(ThingKind.PACK, pack.id): pack.name for pack in site.packs.values()}
    names |= {(ThingKind.ITEM, item.id): item.name for item in site.items.values()}
    retired = {(ThingKind.TRAY, tray.id) for tray in site.trays.values() if tray.retired}
    retired |= {(ThingKind.ITEM, item.id) for item in site.items.values() if item.retired}
    packs = {pack.casefold() for pack in site.packs}
    by_number: dict[str, list[Thing]] = {}
    by_name: dict[str, list[Thing]] = {}
    listed: dict[ThingKind, list[str]] = {kind: [] for kind in ThingKind}
    for thing, name in names.items():
        by_number.setdefault(plain(thing[1]), []).append(thing)
        by_name.setdefault(plain(name), []).append(thing)
        stocked_pack = thing[0] is ThingKind.ITEM and thing[1].casefold() in packs
        if thing not in retired and not stocked_pack:
            listed[thing[0]].append(entry_text(name, thing[1]))
    return Entries(
        names=names,
        retired=frozenset(retired),
        listed={kind: tuple(sorted(texts, key=str.casefold)) for kind, texts in listed.items()},
        by_number={number: tuple(things) for number, things in by_number.items()},
        by_name={name: tuple(things) for name, things in by_name.items() if name},
    )


def parse_entry(entries: Entries, raw: Raw, kind: ThingKind | None) -> tuple[Thing | None, Fault | None]:
    """The thing that a cell names by entry, number or name; of several kinds, the row's own comes first."""
    text = tidy(shown(raw) if not isinstance(raw, str) else raw)
    if not text:
        return None, Fault(kind="empty-cell", message="this cell is empty", expected="a name with its number")
    things = entries.by_number.get(plain(text)) or entries.by_name.get(plain(text))
    match = ENTRY.match(text)
    if not things and match:
        things = entries.by_number.get(plain(match["number"]))
        if things and plain(match["name"]) not in {plain(entries.names[thing]) for thing in things}:
            return None, _contradiction(entries, match["name"], things[0])
    if not things:
        near = entries.nearest(match["name"] if match else text)
        return None, Fault(kind="unknown-thing", expected=WANTED, nearest=near)
    return _choose(entries, things, kind)


WANTED = "an entry of the list; or ask for it in the area below the lines"


def _choose(entries: Entries, things: tuple[Thing, ...], kind: ThingKind | None) -> tuple[Thing | None, Fault | None]:
    order = list(dict.fromkeys((kind or ThingKind.TRAY, ThingKind.TRAY, ThingKind.PACK, ThingKind.ITEM)))
    best = min(things, key=lambda thing: order.index(thing[0]))
    rivals = [thing for thing in things if thing[0] is best[0]]
    if len(rivals) > 1:
        texts = tuple(entries.text(*thing) for thing in rivals[:3])
        return None, Fault(kind="several-things", expected=WANTED, nearest=texts)
    if best in entries.retired:
        return None, Fault(kind="retired-thing", message=f"{entries.text(*best)} is retired", expected=WANTED)
    return best, None


def _contradiction(entries: Entries, name: str, by_number: Thing) -> Fault:
    named = tuple(entries.text(*thing) for thing in entries.by_name.get(plain(name), ()))
    return Fault(
        kind="name-and-number-differ",
        expected="name and number of one thing",
        nearest=tuple(dict.fromkeys((entries.text(*by_number), *named)))[:3],
    )

"""Writing a build as its outline.

Lines are written from the right to the left: what stands behind a name is then known, so that a name is put in
quotes exactly where it would not be read back as itself.
"""

import re
from collections.abc import Sequence
from typing import Final

from engine.build.document import (
    Build,
    Choose,
    Flag,
    FolioUse,
    Gain,
    Granted,
    Increase,
    Item,
    Line,
    Lose,
    NoteItem,
    Origin,
    Pick,
    Swap,
)
from engine.build.outline.cursor import Cursor, quoted
from engine.build.outline.errors import Errors
from engine.build.outline.goals import print_goal
from engine.build.outline.headers import BEHIND_ORIGIN, METHODS
from engine.build.outline.held import Held, held_before, held_by
from engine.build.outline.items import BEHIND, BEHIND_CLASS, BEHIND_OLD, OWN, ItemReader
from engine.build.outline.keywords import BUILT_IN, GEAR, Keyword, words
from engine.build.outline.levels import BEHIND_LEVEL_CLASS, read_subclass
from engine.build.outline.names import index, scan, whole
from engine.build.outline.raw import wrapped
from engine.build.outline.text import Logical
from engine.rules.catalog import Catalog
from engine.rules.names import fold
from engine.rules.words import ABILITIES

_CUSTOM: Final = Flag.model_construct(flag="custom")  # without building a validator at import
_OWN_BARE: Final = re.compile(r"[^\W\d_][^,;():\"+]*")
_NO_BARE_NOTE: Final = re.compile(r"[;()\"]|,$")


def print_outline(build: Build, catalog: Catalog, *, exact: bool = False) -> str:
    """Return the whole outline of a build; every line ends in a line feed.

    Parsing it with the same catalogue gives an equal build. Ids that the catalogue does not know are printed as ids.
    exact: whether every folio is printed with version and hash, so that the text means the same build where another
    version is in use.
    """
    return _Printer(catalog, exact=exact).outline(build)


def print_header(build: Build, catalog: Catalog) -> str:
    """Return the header lines of a build's outline."""
    return _Printer(catalog).header(build)


def print_level(build: Build, level: int, catalog: Catalog) -> str:
    """Return the line of one character level, without a line feed.

    Raises: ValueError if the build has no such level.
    """
    for at, class_id, _, line in build.lines():
        if at == level:
            return _Printer(catalog).level(level, class_id, line, held_before(build, level))
    raise ValueError(f"the build has {build.top} levels, no level {level}")


class _Printer:
    def __init__(self, catalog: Catalog, *, exact: bool = False) -> None:
        self.catalog = catalog
        self.exact = exact
        self.words = words(catalog)

    # -- lines --------------------------------------------------------------------------------------------------

    def outline(self, build: Build) -> str:
        held = held_by(build.species, build.background)
        found = [self.header(build)]
        lines = [(level, class_id, line) for level, class_id, _, line in build.lines()]
        while lines:
            level, class_id, line = lines.pop(0)
            last = level
            while line.empty and lines and lines[0][1] == class_id and lines[0][2].empty:
                last = lines.pop(0)[0]
            if last > level:
                found.append(f"{level}-{last} {self._name(class_id, ('class',), '', BEHIND_LEVEL_CLASS)}\n")
            else:
                found.append(f"{self.level(level, class_id, line, held)}\n")
                held.line(line.items)
        return "".join(found)

    def level(self, level: int, class_id: str, line: Line, held: Held) -> str:
        after = ""
        if line.items:
            after = ": " + self.items(line.items, "", held.learning(line.items))
        if line.hp is not None:
            roll = f" #{line.roll}" if line.roll is not None else ""
            after = f" hp {line.hp}{roll}{after}"
        if line.subclass is not None:
            name = self._subclass(line.subclass, class_id, f"){after}")
            after = f" ({name}){after}"
        return f"{level} {self._name(class_id, ('class',), after, BEHIND_LEVEL_CLASS)}{after}"

    def _subclass(self, id_: str, class_id: str, after: str) -> str:
        shown = self.catalog.subclass(id_)
        for name in (shown.name, quoted(shown.name)) if shown is not None else ():
            reader = ItemReader(self._cursor(f"({name}{after}"), self.catalog, Held())
            if read_subclass(reader, class_id) == id_ and reader.cursor.pos >= len(name) + 2:
                return name
        return self._name(id_, ("subclass",), after, BEHIND_CLASS)

    def header(self, build: Build) -> str:
        found = [f"Build: {wrapped(build.name)}"]
        if build.concept:
            found.append(f"Concept: {wrapped(build.concept)}")
        release = self.catalog.folios[0]
        found.append(f"Rules: {wrapped(release.title if release.id == build.rules else build.rules)}")
        if build.folios:
            found.append(f"Folios: {', '.join(self._folio(use) for use in build.folios)}")
        if build.scores is not None:
            scores = ", ".join(f"{a.title()} {build.scores.values[a]}" for a in ABILITIES)
            roll = f" #{build.scores.roll}" if build.scores.roll is not None else ""
            found.append(f"Scores: {scores} ({METHODS[build.scores.method]}{roll})")
        for kind, origin in (("species", build.species), ("background", build.background)):
            if origin is not None:
                found.append(f"{kind.title()}: {self._origin(origin, kind)}")
        if build.gear:
            found.append(f"Gear: {self.choices(build.gear, GEAR, '', Held())}")
        for prepared in build.prepared:
            text = self.choices(prepared.picks, BUILT_IN["prepare"], "", Held())
            found.append(f"Prepared: {self._of(prepared.of, text)}{text}")
        found += [f"Goal: {print_goal(goal, self.catalog)}" for goal in build.goals]
        found += [f"Note: {wrapped(note)}" for note in build.notes]
        return "".join(f"{line}\n" for line in found)

    def _folio(self, use: FolioUse) -> str:
        folio = next((f for f in self.catalog.folios[1:] if f.id == use.id), None)
        if not self.exact and folio is not None and (use.version, use.hash) == (folio.header.version, folio.hash):
            alike = [f for f in self.catalog.folios[1:] if fold(folio.title) in (fold(f.id), fold(f.title))]
            name, details = folio.title if len(alike) == 1 else folio.id, ""
        else:
            said = [("version", use.version), ("hash", use.hash)]
            shown = "; ".join(f"{key} {quoted(value)}" for key, value in said if value) or 'version ""'
            name, details = use.id, f" ({shown})"
        return (name if re.fullmatch(r"\w[^,;():\"]*", name) else quoted(name)) + details

    def _origin(self, origin: Origin, kind: str) -> str:
        inside = self.items(origin.items, ")", Held().learning(origin.items)) if origin.items else ""
        if origin.name is not None:
            name = origin.name if _OWN_BARE.fullmatch(origin.name) else quoted(origin.name)
            return f"{name} (custom; {inside})" if inside else f"{name} (custom)"
        after = f" ({inside})" if inside else ""
        own = kind == "background"
        return self._name(origin.id or "", (kind,), after, BEHIND_ORIGIN, own=own) + after

    # -- items --------------------------------------------------------------------------------------------------

    def items(self, items: Sequence[Item], after: str, held: Held) -> str:
        """Return items with what separates them; after: what stands behind them; held: what the line's swaps find."""
        text = ""
        for place in range(len(items) - 1, -1, -1):
            item = items[place]
            if place + 1 < len(items):
                both = isinstance(item, Increase) and isinstance(items[place + 1], Increase)
                text = (", " if both else "; ") + text
            text = self.item(item, text + after, held) + text
        return text

    def item(self, item: Item, after: str, held: Held) -> str:
        if isinstance(item, Flag):
            return item.flag
        if isinstance(item, Increase):
            return f"+{item.amount} {item.ability.title()}"
        if isinstance(item, NoteItem):
            return f"note {quoted(item.text) if _NO_BARE_NOTE.search(item.text) else item.text}"
        if isinstance(item, Gain | Lose):
            return f"{item.kind} {self.choices(item.picks, GEAR, after, held)}"
        if isinstance(item, Granted):
            return f"granted {quoted(item.text)} {self.item(item.item, after, held)}"
        if isinstance(item, Swap):
            return self._swap(item, after, held)
        return self._choose(item, after, held)

    def _choose(self, item: Choose, after: str, held: Held) -> str:
        keyword = self.words.get(item.keyword)
        word = keyword.many if len(item.picks) > 1 else keyword.id
        text = self.choices(item.picks, keyword, after, held)
        of = self._of(item.of, text)
        opened = self.words.at(f"{word} {of}{text}", 0)
        if opened is not None and opened[1] != len(word):
            # The name goes on as another, longer keyword would.
            text = self.choices(item.picks, keyword, after, held, quote_first=True)
        return f"{word} {of}{text}"

    def _of(self, class_id: str | None, after: str) -> str:
        if class_id is None:
            return ""
        return f"({self._name(class_id, ('class',), f') {after}', BEHIND_CLASS)}) "

    def choices(
        self, picks: Sequence[Pick], keyword: Keyword, after: str, held: Held, *, quote_first: bool = False
    ) -> str:
        text = ""
        for place in range(len(picks) - 1, -1, -1):
            if text:
                text = ", " + text
            bare = not (quote_first and place == 0)
            text = self.choice(picks[place], keyword, text + after, held, bare=bare) + text
        return text

    def choice(
        self,
        pick: Pick,
        keyword: Keyword,
        after: str,
        held: Held,
        *,
        bare: bool = True,
        behind_name: re.Pattern[str] = BEHIND,
    ) -> str:
        """Return one choice; bare: whether its name may stand without quotes."""
        behind = ""
        if pick.items:
            behind = f" ({self.items(pick.items, ')', held)})"
        if pick.bonus:
            behind = f" +{pick.bonus}{behind}"
        count = f"{pick.count} " if pick.count != 1 else ""
        if keyword.own and pick.items and pick.items[0] == _CUSTOM:
            plain_enough = bare and _OWN_BARE.fullmatch(pick.id)
            return f"{count}{pick.id if plain_enough else quoted(pick.id)}{behind}"
        name = self._name(pick.id, keyword.kinds, behind + after, behind_name, count=count, own=keyword.own)
        if not bare and name[0] != '"':
            name = quoted(name)
        return f"{count}{name}{behind}"

    def _swap(self, item: Swap, after: str, held: Held) -> str:
        keyword = self.words.get(item.keyword)
        new = self.choice(item.new, keyword, after, held)
        gone = f" for {new}{after}"
        old = self.choice(item.old, keyword, gone, held, behind_name=BEHIND_OLD)
        old_quoted = self.choice(item.old, keyword, gone, held, bare=False)
        forms = [f"{word}{name} for {new}" for word in ("", f"{keyword.id} ") for name in (old, old_quoted)]
        for form in forms:
            reader = ItemReader(self._cursor(f"swap {form}{after}"), self.catalog, held)
            if reader.item(0) == [item] and reader.cursor.pos >= len(f"swap {form}"):
                return f"swap {form}"
        return f"swap {forms[-1]}"

    @staticmethod
    def _cursor(text: str) -> Cursor:
        return Cursor(Logical(text, 1, text, 0), Errors())

    # -- names --------------------------------------------------------------------------------------------------

    def _name(
        self,
        id_: str,
        kinds: Sequence[str],
        after: str,
        behind: re.Pattern[str],
        *,
        count: str = "",
        own: bool = False,
    ) -> str:
        """Return the name of an id, in quotes where the bare one with `after` behind it would be read differently."""
        indexes = [index(self.catalog, kind) for kind in kinds]
        known = (form for names in indexes if (form := names.form(id_)))
        form = next((form for form in known if whole(form, indexes) == (id_,)), None)
        if form is None:
            return id_ if re.fullmatch(r"[a-z0-9/.-]+", id_) else quoted(id_)
        if count and (many := self._many(form, id_, kinds)):
            form = many
        if not form[0].isalnum() or form[-1] in ",;" or (own and OWN.match(form + after)):
            return quoted(form)
        taken = scan(f"{count}{form}{after}", 0, indexes, behind) if count else None
        hit = scan(form + after, 0, indexes, behind) if taken is None else None
        return form if hit is not None and hit.end == len(form) and hit.ids == (id_,) else quoted(form)

    def _many(self, form: str, id_: str, kinds: Sequence[str]) -> str | None:
        """Return the plural of a piece of ammunition, which is counted (`20 Arrows`); None for other things."""
        item = self.catalog.item(id_) if tuple(kinds) == ("item",) else None
        if item is None or item.category != "ammunition" or form.endswith("s"):
            return None
        many = f"{form}s"
        return many if index(self.catalog, "item").ids(many) == (id_,) else None

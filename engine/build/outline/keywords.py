"""The words that open an item, and of what kind the names behind them are."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final, get_args
from weakref import WeakKeyDictionary

from engine.build.document import FlagWord
from engine.rules.catalog import Catalog
from engine.rules.content import ClassContent, Option, State
from engine.rules.content.entry import Featured
from engine.rules.names import fold, nearest

FLAGS: Final[dict[str, FlagWord]] = {fold(flag): flag for flag in get_args(FlagWord)}
# Words that open items of their own form.
FORMS: Final = ("note", "swap", "gain", "lose", "granted")


@dataclass(frozen=True, slots=True)
class Keyword:
    """A keyword. id: as documents keep it; kinds: kinds of its names, in the order they are tried.

    noun: what one of its names is called in a sentence. many: the plural, printed before two names or more.
    own: whether a name of one's own may stand here, marked by `(custom)`.
    """

    id: str
    kinds: tuple[str, ...]
    noun: str
    many: str
    own: bool = False


def _keyword(id_: str, kinds: str, noun: str, many: str | None = None) -> Keyword:
    return Keyword(id_, tuple(kinds.split()), noun, many or id_)


# Keywords that every outline knows. A choice list of some folio may offer the names (`option:...`), never the word.
BUILT_IN: Final[dict[str, Keyword]] = {
    k.id: k
    for k in (
        _keyword("skill", "skill", "skill", "skills"),
        _keyword("expertise", "skill tool", "skill or tool"),
        _keyword("language", "language", "language", "languages"),
        _keyword("tool", "tool", "tool", "tools"),
        _keyword("cantrip", "spell", "cantrip", "cantrips"),
        _keyword("spell", "spell", "spell", "spells"),
        _keyword("copied", "spell", "spell"),
        _keyword("secret", "spell", "spell", "secrets"),
        _keyword("prepare", "spell", "spell"),
        _keyword("feat", "feat", "feat", "feats"),
        _keyword("feature", "background-feature feature", "background feature", "features"),
        _keyword("ability", "ability", "ability", "abilities"),
        _keyword("kind", "option:kind humanoid-kind", "kind of humanoid", "kinds"),
        _keyword("style", "option:style", "style", "styles"),
        _keyword("invocation", "option:invocation", "invocation", "invocations"),
        _keyword("metamagic", "option:metamagic", "metamagic option"),
        _keyword("boon", "option:boon", "boon", "boons"),
        _keyword("dragon", "option:dragon", "kind of dragon", "dragons"),
        _keyword("enemy", "option:enemy creature-type", "kind of enemy", "enemies"),
        _keyword("terrain", "option:terrain", "terrain", "terrains"),
        _keyword("prey", "option:prey", "prey"),
        _keyword("mastery", "option:mastery item", "weapon"),
    )
}
GEAR: Final = Keyword("gear", ("item",), "item", "gear", own=True)

_WORD: Final = re.compile(r"[^\W\d_]+(?:-[^\W\d_]+)*")


class Words:
    """The keywords of one catalogue."""

    def __init__(self, catalog: Catalog) -> None:
        self.by_id: dict[str, Keyword] = dict(BUILT_IN)
        for id_ in catalog.keywords():
            choice = catalog.choice_list(id_)
            noun = choice.title or choice.name if choice else id_
            self._add(id_, (f"option:{id_}",), f"option of {noun}")
        for id_ in _spell_keywords(catalog):
            self._add(id_, ("spell",), "spell")
        self.by_fold: dict[str, Keyword] = {fold(id_): keyword for id_, keyword in self.by_id.items()}
        self.longest = max(form.count(" ") + 1 for form in (*self.by_fold, *FLAGS))

    def _add(self, id_: str, kinds: tuple[str, ...], noun: str) -> None:
        # A folio adds keywords and never takes one over, nor a word that opens an item already.
        if id_ not in self.by_id and fold(id_) not in FLAGS and id_ not in FORMS:
            self.by_id[id_] = Keyword(id_, kinds, noun, _plural(id_))

    def at(self, text: str, pos: int) -> tuple[str, int] | None:
        """Return the folded keyword, flag or form word that begins at pos, and its end; the longest one."""
        ends: list[int] = []
        while (word := _WORD.match(text, pos if not ends else ends[-1] + 1)) and len(ends) < self.longest:
            ends.append(word.end())
            if word.end() >= len(text) or text[word.end()] != " ":
                break
        for end in reversed(ends):
            form = fold(text[pos:end])
            if form in self.by_fold or form in FLAGS or form in FORMS:
                return form, end
        return None

    def get(self, id_: str) -> Keyword:
        """Return a keyword by id; one that no content knows any more takes names of no kind."""
        return self.by_id.get(id_) or Keyword(id_, (), id_, id_)

    def suggest(self, word: str) -> list[str]:
        """Return the words nearest to one that opens no item."""
        return nearest(word, [*self.by_id, *FLAGS.values(), *FORMS])


_CACHE: WeakKeyDictionary[Catalog, Words] = WeakKeyDictionary()


def words(catalog: Catalog) -> Words:
    """Return the keywords of a catalogue, made once."""
    found = _CACHE.get(catalog)
    if found is None:
        found = _CACHE[catalog] = Words(catalog)
    return found


def _plural(id_: str) -> str:
    if id_.endswith("ed"):
        return id_  # `mastered`, like `copied`, says what happened to the things behind it
    many = f"{id_[:-1]}ies" if id_.endswith("y") else f"{id_}s"
    return many if fold(many) == fold(id_) else id_


def _spell_keywords(catalog: Catalog) -> Iterable[str]:
    """Yield the keywords of choices that pick spells under a word of their own."""
    for folio in catalog.folios:
        for _, entry in folio.all():
            grants: list[Any] = []
            if isinstance(entry, ClassContent):
                grants += [*entry.start, *entry.multiclass.grants]
            if isinstance(entry, Featured):
                grants += [g for feature in entry.features for g in feature.grants]
            if isinstance(entry, Option | State):
                grants += entry.grants
            for grant in grants:
                if grant.kind == "choice" and grant.of == "spell":
                    yield grant.keyword

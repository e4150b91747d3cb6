"""Changes of choices in plain words, for cards: `level 8: +2 Dex instead of +2 Wis`."""

from collections.abc import Sequence
from typing import Any

from engine.build.diff import edits_between
from engine.build.document import (
    Build,
    Choose,
    Flag,
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
from engine.build.edits import Edit, steps_of
from engine.build.merge import changes
from engine.build.outline.goals import print_goal
from engine.build.outline.headers import METHODS
from engine.build.outline.keywords import GEAR, Keyword, words
from engine.build.outline.names import index
from engine.rules.catalog import Catalog
from engine.rules.words import ABILITY_NAMES


def item_words(item: Item, catalog: Catalog) -> str:
    """Return one item in plain words, names without quotes: `spells Fog Cloud, Longstrider`."""
    return _Words(catalog).item(item)


def edit_words(edit: Edit, before: Build, after: Build, catalog: Catalog) -> str:
    """Return what one edit changes, without a full stop: `level 8: +2 Dex instead of +2 Wis`.

    before, after: the builds the edit stands between; they tell at which character level a line is.
    """
    return _Words(catalog).edit(edit, before, after)


def changes_in_words(before: Build, after: Build, catalog: Catalog) -> tuple[str, ...]:
    """Return every change of choices between two builds in words, header first, then level by level.

    A line that only counts as another level of its class now, because levels before it changed, is no change.
    """
    say = _Words(catalog)
    edits = edits_between(before, after)
    lines = [e for e in edits if e.path.startswith("/levels/") and not _only_counted_anew(e.path, before, after)]
    lines.sort(key=lambda edit: _level_of(edit.path, before, after))
    header = [edit for edit in edits if not edit.path.startswith("/levels/")]
    return tuple(dict.fromkeys(say.edit(edit, before, after) for edit in (*header, *lines)))


def _only_counted_anew(path: str, before: Build, after: Build) -> bool:
    """Tell whether the character levels that a line's path means in both builds say what they said before."""
    _, class_id, nth = steps_of(path)
    places = [_at(build, class_id, int(nth)) for build in (before, after)]
    sides = [list(build.lines()) for build in (before, after)]
    for place, mine, other in zip(places, sides, reversed(sides), strict=True):
        if place is None or mine[place - 1][3].empty:
            continue
        if place > len(other) or mine[place - 1][1::2] != other[place - 1][1::2]:
            return False
    return True


def _at(build: Build, class_id: str, nth: int) -> int | None:
    """Return the character level of the nth level of a class; None if the build has no such level."""
    return next((level for level, of, at, _ in build.lines() if (of, at) == (class_id, nth)), None)


def _level_of(path: str, before: Build, after: Build) -> int:
    """Return the character level of a line's path, in the later build if it is still there."""
    _, class_id, nth = steps_of(path)
    return _at(after, class_id, int(nth)) or _at(before, class_id, int(nth)) or 0


class _Words:
    def __init__(self, catalog: Catalog) -> None:
        self.catalog = catalog
        self.keywords = words(catalog)

    # -- edits --------------------------------------------------------------------------------------------------

    def edit(self, edit: Edit, before: Build, after: Build) -> str:
        match steps_of(edit.path):
            case ("levels", class_id, nth):
                level = _level_of(edit.path, before, after)
                old, new = (build.levels.get(class_id, {}).get(int(nth), Line()) for build in (before, after))
                where = f"level {level}" if after.order.count(class_id) >= int(nth) else f"level {level}, gone"
                return f"{where}: {self._change(self._line(old), self._line(new))}"
            case ("order",):
                return self._order(before.order, after.order)
            case ("scores", "values", ability):
                name = next((full for short, full in ABILITY_NAMES.items() if short == ability), ability)
                return f"{name} {edit.after} instead of {edit.before}"
            case ("scores", *_):
                return f"scores: {self._scores(after)} instead of {self._scores(before)}"
            case ("species" | "background" as kind, *rest):
                old_origin, new_origin = getattr(before, kind), getattr(after, kind)
                if rest:
                    changed = self._change(self._items(old_origin.items), self._items(new_origin.items))
                else:
                    changed = self._change(self._origin(old_origin, kind), self._origin(new_origin, kind))
                return f"{kind}: {changed}"
            case ("gear",):
                return f"gear: {self._change(self._gear(before.gear), self._gear(after.gear))}"
            case ("prepared",):
                return f"prepared: {self._change(self._prepared(before), self._prepared(after))}"
            case ("goals",):
                old_goals, new_goals = ([print_goal(goal, self.catalog) for goal in b.goals] for b in (before, after))
                return f"goals: {self._change(old_goals, new_goals)}"
            case ("folios",):
                old_ids, new_ids = ([f"{f.id} {f.version}".strip() for f in b.folios] for b in (before, after))
                return f"folios: {self._change(old_ids, new_ids)}"
            case ("notes",):
                return f"notes: {self._change(list(before.notes), list(after.notes))}"
            case ("rules",):
                return f"rules {edit.after} instead of {edit.before}"
            case (name, *_):
                return f"{name}: {self._change(_texts(edit.before), _texts(edit.after))}"
        return edit.path

    @staticmethod
    def _change(old: Sequence[str], new: Sequence[str]) -> str:
        """Say a change of things: what came instead of what."""
        gone = [thing for thing in old if thing not in new]
        come = [thing for thing in new if thing not in old]
        if come and gone:
            return f"{', '.join(come)} instead of {', '.join(gone)}"
        if come:
            return f"adds {', '.join(come)}"
        return f"drops {', '.join(gone)}" if gone else "another order"

    def _order(self, before: Sequence[str], after: Sequence[str]) -> str:
        said = []
        for i1, i2, j1, j2 in changes(before, after):
            if i1 == i2:
                said.append(f"{_span(j1, j2)} added: {self._classes(after[j1:j2])}")
            elif j1 == j2:
                said.append(f"{_span(i1, i2)} removed: {self._classes(before[i1:i2])}")
            else:
                said.append(f"{_span(j1, j2)}: {self._classes(after[j1:j2])} instead of {self._classes(before[i1:i2])}")
        return "; ".join(said)

    def _classes(self, ids: Sequence[str]) -> str:
        counted = [(class_id, ids.count(class_id)) for class_id in dict.fromkeys(ids)]
        return ", ".join(f"{self._name(('class',), c)}{f' ×{n}' if n > 1 else ''}" for c, n in counted)

    @staticmethod
    def _scores(build: Build) -> str:
        scores = build.scores
        if scores is None:
            return "none"
        roll = f" #{scores.roll}" if scores.roll is not None else ""
        numbers = ", ".join(f"{ability.title()} {score}" for ability, score in scores.values.items())
        return f"{numbers} ({METHODS[scores.method]}{roll})"

    def _line(self, line: Line) -> list[str]:
        found = []
        if line.subclass is not None:
            found.append(self._name(("subclass",), line.subclass))
        if line.hp is not None:
            roll = f" #{line.roll}" if line.roll is not None else ""
            found.append(f"hp {line.hp}{roll}")
        return found + self._items(line.items)

    def _items(self, items: Sequence[Item]) -> list[str]:
        return [self.item(part) for item in items for part in _parts(item)]

    def _origin(self, origin: Origin | None, kind: str) -> list[str]:
        if origin is None:
            return []
        name = origin.name or self._name((kind,), origin.id or "")
        return [f"{name} ({'; '.join(map(self.item, origin.items))})" if origin.items else name]

    def _gear(self, picks: Sequence[Pick]) -> list[str]:
        return [self._pick(pick, GEAR) for pick in picks]

    def _prepared(self, build: Build) -> list[str]:
        keyword = self.keywords.get("prepare")
        return [self._pick(pick, keyword) for prepared in build.prepared for pick in prepared.picks]

    # -- items --------------------------------------------------------------------------------------------------

    def item(self, item: Item) -> str:
        if isinstance(item, Increase):
            return f"+{item.amount} {item.ability.title()}"
        if isinstance(item, Flag):
            return item.flag
        if isinstance(item, NoteItem):
            return f"note “{item.text}”"
        if isinstance(item, Granted):
            return f"{self.item(item.item)} as a gift (“{item.text}”)"
        if isinstance(item, Gain | Lose):
            return f"{item.kind} {', '.join(self._pick(pick, GEAR) for pick in item.picks)}"
        if isinstance(item, Swap):
            keyword = self.keywords.get(item.keyword)
            return f"swap {self._pick(item.old, keyword)} for {self._pick(item.new, keyword)}"
        keyword = self.keywords.get(item.keyword)
        word = keyword.many if len(item.picks) > 1 else keyword.id
        of = f" ({self._name(('class',), item.of)})" if item.of else ""
        return f"{word}{of} {', '.join(self._pick(pick, keyword) for pick in item.picks)}"

    def _pick(self, pick: Pick, keyword: Keyword) -> str:
        count = f"{pick.count} " if pick.count != 1 else ""
        bonus = f" +{pick.bonus}" if pick.bonus else ""
        inside = f" ({'; '.join(map(self.item, pick.items))})" if pick.items else ""
        return f"{count}{self._name(keyword.kinds, pick.id)}{bonus}{inside}"

    def _name(self, kinds: Sequence[str], id_: str) -> str:
        for kind in kinds:
            shown = index(self.catalog, kind).shown.get(id_)
            if shown is not None:
                return shown.names[0]
        return id_


def _parts(item: Item) -> list[Item]:
    """Return an item pick by pick, so that lists that share most of their picks differ only in the others."""
    if isinstance(item, Choose):
        return [Choose(keyword=item.keyword, of=item.of, picks=(pick,)) for pick in item.picks]
    if isinstance(item, Gain):
        return [Gain(picks=(pick,)) for pick in item.picks]
    if isinstance(item, Lose):
        return [Lose(picks=(pick,)) for pick in item.picks]
    return [item]


def _span(start: int, end: int) -> str:
    return f"level {start + 1}" if end - start == 1 else f"levels {start + 1} to {end}"


def _texts(value: Any) -> list[str]:
    return [] if value is None else [str(value)]


__all__ = ["changes_in_words", "edit_words", "item_words"]

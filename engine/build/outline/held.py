"""What a build holds at some line, by keyword: so that `swap A for B` need not say what A is."""

from collections.abc import Iterable

from engine.build.document import Build, Choose, Granted, Item, Origin, Swap, picks_of

# Spells learned under these words are spells of the class like any other when they are swapped.
_SPELLS = frozenset({"secret", "copied"})


class Held:
    """Keyword and id of every pick so far. `prepare` is no pick of its own: it only lists what is ready."""

    def __init__(self, picks: Iterable[tuple[str, str]] = ()) -> None:
        self._picks = set(picks)

    def copy(self) -> "Held":
        """Return a Held that grows apart from this one."""
        return Held(self._picks)

    def learning(self, items: Iterable[Item]) -> "Held":
        """Return what is held when the swaps of a line happen: what was held before it and all that it learns."""
        mine = self.copy()
        mine.learn(items)
        return mine

    def __contains__(self, pick: tuple[str, str]) -> bool:
        return pick in self._picks

    def keywords(self) -> set[str]:
        """Return the keywords under which anything is held."""
        return {keyword for keyword, _ in self._picks}

    def learn(self, items: Iterable[Item]) -> None:
        """Add what the items pick, inside parentheses too; swaps, wherever they stand, happen later."""
        for item in items:
            if isinstance(item, Granted):
                self.learn((item.item,))
            elif isinstance(item, Choose) and item.keyword != "prepare":
                keyword = "spell" if item.keyword in _SPELLS else item.keyword
                self._picks.update((keyword, pick.id) for pick in item.picks)
            if not isinstance(item, Swap):
                for pick in picks_of(item):
                    self.learn(pick.items)

    def line(self, items: Iterable[Item]) -> None:
        """Add a whole line: learning comes first, then the swaps."""
        items = tuple(items)
        self.learn(items)
        self._swaps(items)

    def _swaps(self, items: Iterable[Item]) -> None:
        for item in items:
            if isinstance(item, Swap):
                self._picks.discard((item.keyword, item.old.id))
                self._picks.add((item.keyword, item.new.id))
                self.learn(item.new.items)
                self._swaps(item.new.items)
            else:
                for pick in picks_of(item):
                    self._swaps(pick.items)


def held_by(*origins: Origin | None) -> Held:
    """Return what species and background bring by choice."""
    held = Held()
    for origin in origins:
        if origin is not None:
            held.line(origin.items)
    return held


def held_before(build: Build, level: int) -> Held:
    """Return what a build holds before its line of a character level."""
    held = held_by(build.species, build.background)
    for at, _, _, line in build.lines():
        if at >= level:
            break
        held.line(line.items)
    return held

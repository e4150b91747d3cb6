"""Items: what stands behind the colon of a level line and inside parentheses."""

import re
from collections.abc import Callable
from typing import Final

from engine.build.document import (
    DEEPEST,
    MAX_ID,
    MAX_TEXT,
    Choose,
    Flag,
    Gain,
    Granted,
    Increase,
    Item,
    Lose,
    NoteItem,
    Pick,
    Swap,
)
from engine.build.outline.cursor import Cursor
from engine.build.outline.errors import Errors, listed
from engine.build.outline.held import Held
from engine.build.outline.keywords import FLAGS, GEAR, Keyword, words
from engine.build.outline.names import Hit, Index, index, scan, suggest, whole
from engine.build.plain import plain
from engine.rules.catalog import Catalog
from engine.rules.content import Spell
from engine.rules.words import ABILITIES

# What may stand behind a name of a choice.
BEHIND: Final = re.compile(r"\s*(?:$|[,;()]|\+\d)")
BEHIND_OLD: Final = re.compile(r"\s*(?:$|[,;()]|\+\d)|\s+for\s", re.I)
BEHIND_CLASS: Final = re.compile(r"\s*\)")
_COUNT: Final = re.compile(r"(\d+)\s+(?=\S)")
_COUNT_OF_QUOTED: Final = re.compile(r'(\d+)\s+(?=")')
_BONUS: Final = re.compile(r"\+\s*(\d+)")
_FOR: Final = re.compile(r"for(?=\s|\")", re.I)
_BONUS_AHEAD: Final = re.compile(r"\s*\+\d")
# A name of one's own is told by `(custom` behind it and behind its bonus.
_CUSTOM_AHEAD: Final = re.compile(r"\s*(?:\+\s*\d+\s*)?\(\s*custom\s*[;)]", re.I)
OWN: Final = re.compile(rf"[^,;():\"+]+(?={_CUSTOM_AHEAD.pattern})", re.I)
_INCREASE: Final = re.compile(r"\+\s*(\d+)\s*")
_QUOTED_ALONE: Final = re.compile(r'"(?:[^"]|"")*"\s*(?:[;)]|$)')
_NOTE: Final = re.compile(r"[^;]*")
_ANY_WORD: Final = re.compile(r"[^\s,;():\"]+")


class ItemReader:
    """Reads items at a cursor.

    held: what the build holds when the line's swaps happen, so that they find their keyword.
    """

    def __init__(self, cursor: Cursor, catalog: Catalog, held: Held) -> None:
        self.cursor = cursor
        self.catalog = catalog
        self.held = held
        self.words = words(catalog)

    # -- items ------------------------------------------------------------------------------------------------

    def items(self, depth: int) -> tuple[Item, ...]:
        """Read `item { ";" item }` up to the end of the line, or inside parentheses up to the one that closes.

        depth: how many parentheses are open. What cannot be read is noted and left out.
        """
        cursor, found = self.cursor, []
        while True:
            start = cursor.pos
            found += self.item(depth)
            cursor.skip_blanks()
            if not cursor.done and cursor.here != ";" and not (depth and cursor.here == ")"):
                if cursor.pos > start:
                    closing = " or `)`" if depth else ""
                    cursor.wrong(f"{cursor.shown()} does not follow here; expected `,`, `;`{closing}", "`,` or `;`")
                cursor.recover(";)" if depth else ";")
            if not cursor.take(";"):
                return tuple(found)

    def item(self, depth: int) -> list[Item]:
        """Read one item; increases come one by one."""
        cursor = self.cursor
        if cursor.here == "+":
            return list(self._increases())
        start = cursor.pos
        word = self.words.at(cursor.text, cursor.pos)
        if word is None:
            self._no_keyword()
            return []
        form, end = word
        cursor.go(end)
        if form == "note":
            return list(self._note(depth, start))
        if form == "swap":
            swap = self._swap(depth)
            return [swap] if swap else []
        if form == "gain" or form == "lose":
            picks = self.choices(GEAR, depth)
            model = Gain if form == "gain" else Lose
            return [model.model_construct(picks=picks)] if picks else []
        if form == "granted":
            return list(self._granted(depth))
        if form in FLAGS:
            return [Flag.model_construct(flag=FLAGS[form])]
        return self._choose(self.words.by_fold[form], depth)

    def _no_keyword(self) -> None:
        cursor = self.cursor
        found = _ANY_WORD.match(cursor.text, cursor.pos)
        expected = "a keyword such as `skill` or `spells`, or an increase such as `+2 Dex`"
        if found is None:
            cursor.wrong(f"{cursor.shown()} is no item; expected {expected}", expected)
        else:
            near = self.words.suggest(found[0])
            cursor.wrong(f"`{found[0]}` opens no item; expected {expected}", expected, near)

    def _increases(self) -> list[Increase]:
        cursor, found = self.cursor, []
        while True:
            start = cursor.pos
            plus = cursor.match(_INCREASE)
            named = self.name([index(self.catalog, "ability")], "ability", BEHIND) if plus else None
            ability = next((ability for ability in ABILITIES if ability == named), None)
            if plus is None:
                cursor.wrong(f"{cursor.shown()} is no increase; expected one such as `+2 Dex`", "an increase")
            elif not 1 <= int(plus[1][:9]) <= 10:
                cursor.wrong(f"an increase by {plus[1]} is out of range; expected 1 to 10", "1 to 10", at=start)
            elif ability is not None:
                found.append(Increase.model_construct(ability=ability, amount=int(plus[1])))
            if plus is None or ability is None:
                cursor.recover(",;)")
            if not cursor.take(","):
                return found

    def _note(self, depth: int, start: int) -> list[NoteItem]:
        cursor = self.cursor
        text: str | None
        if _QUOTED_ALONE.match(cursor.text, cursor.pos):
            text = cursor.quoted()
        elif depth:
            begin = cursor.pos
            cursor.recover(";)")
            text = cursor.text[begin : cursor.pos]
        else:
            found = cursor.match(_NOTE)
            text = found[0] if found else ""
        if text is None:
            return []
        if not plain(text):
            cursor.wrong("`note` needs its text behind it", "a text", at=start)
            return []
        if len(text) > MAX_TEXT:
            cursor.wrong(f"this note has {len(text):,} characters; it may have {MAX_TEXT:,}", at=start)
            return []
        return [NoteItem.model_construct(text=text)]

    def _granted(self, depth: int) -> list[Granted]:
        cursor = self.cursor
        start = cursor.pos
        if cursor.here != '"':
            cursor.wrong(
                'a gift says in quotes why it was given, as in `granted "harbour oath" feat Grappler`',
                "a text in quotes",
            )
            cursor.recover(";)")
            return []
        text = cursor.quoted()
        if text is None:
            return []
        if not plain(text) or len(text) > MAX_TEXT:
            cursor.wrong(f"the reason of a gift has 1 to {MAX_TEXT:,} characters", "a text in quotes", at=start)
        inner = cursor.pos
        given = self.item(depth)
        if any(isinstance(item, Granted) for item in given):
            cursor.wrong("a gift cannot hold another gift", "an item", at=inner)
            return []
        return (
            [Granted.model_construct(text=text, item=item) for item in given]
            if plain(text) and len(text) <= MAX_TEXT
            else []
        )

    def _choose(self, keyword: Keyword, depth: int) -> list[Item]:
        cursor = self.cursor
        of: str | None = None
        if cursor.take("("):
            of = self.name([index(self.catalog, "class")], "class", BEHIND_CLASS)
            if of is None:
                cursor.recover(")")
            if not cursor.take(")"):
                cursor.wrong(f"{cursor.shown()} does not follow a class here; expected `)`", "`)`")
        picks = self.choices(keyword, depth)
        return [Choose.model_construct(keyword=keyword.id, of=of, picks=picks)] if picks else []

    # -- choices ----------------------------------------------------------------------------------------------

    def choices(self, keyword: Keyword, depth: int) -> tuple[Pick, ...]:
        """Read `choice { "," choice }`; what cannot be read is noted and left out."""
        found: list[Pick] = []
        while True:
            pick = self.choice(keyword, depth, BEHIND)
            if pick is not None:
                found.append(pick)
            if not self.cursor.take(","):
                return tuple(found)

    def choice(self, keyword: Keyword, depth: int, behind: re.Pattern[str]) -> Pick | None:
        """Read `[ N ] name [ "+" N ] [ "(" items ")" ]`; None, and an error, if that does not stand here."""
        cursor = self.cursor
        count, bonus = 1, 0
        start = name_at = cursor.pos
        indexes = [index(self.catalog, kind) for kind in keyword.kinds]
        own: str | None = None
        hit: Hit | None = None
        if cursor.match(_COUNT_OF_QUOTED) or not (hit := self._known(indexes, behind, keyword)):
            # No name that begins with a number stands here, so a number is a count.
            cursor.go(start)
            if number := cursor.match(_COUNT):
                count = int(number[1][:9])
            name_at = cursor.pos
            if keyword.own and (text := self.own_name()) is not None:
                own = text
            elif hit is None:
                hit = self._known(indexes, behind, keyword)
        id_ = own if own is not None else self._take(hit, indexes, keyword.noun, behind)
        if plus := cursor.match(_BONUS):
            bonus = int(plus[1][:9])
        inside = self._inside(depth)
        if id_ is None or inside is None:
            cursor.recover(",;)")
            return None
        if not 1 <= count <= 9999 or bonus > 9:
            cursor.wrong("a count goes from 1 to 9999 and a bonus to +9", "a count or bonus in range", at=start)
            return None
        if own is not None and not 0 < len(own) <= MAX_ID:
            cursor.wrong(f"a name of one's own has 1 to {MAX_ID} characters", "a shorter name", at=name_at)
            return None
        return Pick.model_construct(id=id_, count=count, bonus=bonus, items=inside)

    def _inside(self, depth: int) -> tuple[Item, ...] | None:
        """Read the parentheses behind a name, if any."""
        cursor = self.cursor
        start = cursor.pos
        if not cursor.take("("):
            return ()
        if depth >= DEEPEST:
            cursor.wrong(f"parentheses nest to depth {DEEPEST}; this goes deeper", "no further parentheses", at=start)
            cursor.recover(")")
            cursor.take(")")
            return None
        found = self.items(depth + 1)
        if not cursor.take(")"):
            cursor.wrong("the parenthesis that opens here is never closed; expected `)`", "`)`", at=start)
        return found

    def own_name(self) -> str | None:
        """Go past a name of one's own and return it; None if what stands here is not marked `custom`."""
        cursor = self.cursor
        start = cursor.pos
        if cursor.here == '"':
            text = cursor.quoted()
            if text is not None and _CUSTOM_AHEAD.match(cursor.text, cursor.pos):
                return plain(text)
            cursor.pos = start
            return None
        found = cursor.match(OWN)
        return found[0].strip() if found else None

    # -- names ------------------------------------------------------------------------------------------------

    def name(self, indexes: list[Index], noun: str, behind: re.Pattern[str], hint: str = "") -> str | None:
        """Read a name of some kinds and return its id; None, and an error, if it is not known.

        noun: what the name is called in the error; hint: what else might be meant, appended to it.
        """
        quote = self.cursor.done or self.cursor.here == '"'
        hit = None if quote else scan(self.cursor.text, self.cursor.pos, indexes, behind)
        return self._take(hit, indexes, noun, behind, hint)

    def candidates(self, indexes: list[Index], behind: re.Pattern[str]) -> Hit | None:
        """Return what the name here, quoted or not, may mean and where it ends; None if it is not known."""
        cursor = self.cursor
        if cursor.here != '"':
            return scan(cursor.text, cursor.pos, indexes, behind)
        ahead = Cursor(cursor.line, Errors(), cursor.pos)
        ids = whole(plain(ahead.quoted() or ""), indexes)
        return Hit(ahead.pos, ids) if ids else None

    def _known(self, indexes: list[Index], behind: re.Pattern[str], keyword: Keyword) -> Hit | None:
        cursor = self.cursor
        if cursor.done or cursor.here == '"' or (keyword.own and OWN.match(cursor.text, cursor.pos)):
            return None
        return scan(cursor.text, cursor.pos, indexes, behind)

    def _take(
        self, hit: Hit | None, indexes: list[Index], noun: str, behind: re.Pattern[str], hint: str = ""
    ) -> str | None:
        """Go past a name and return its id; None, and an error, if nothing or too much is known under it."""
        cursor = self.cursor
        start = cursor.pos
        if hit is not None:
            text, ids = cursor.text[start : hit.end], hit.ids
            cursor.go(hit.end)
        elif cursor.here == '"':
            written = cursor.quoted()
            if written is None:
                return None
            text = plain(written)
            ids = whole(text, indexes)
        else:
            text, ids = self._run(behind), ()
        article = "an" if noun[0] in "aeiou" else "a"
        if not text:
            cursor.wrong(f"expected {article} {noun} here, not {cursor.shown()}", f"{article} {noun}", at=start)
            return None
        if len(ids) > 1:
            forms = [form for names in indexes for id_ in ids if (form := names.form(id_))]
            sentence = f"`{text}` may mean more than one {noun}; write {listed(f'`{f}`' for f in forms)}"
            cursor.errors.add(cursor.line.place(start), sentence, f"one of {', '.join(forms)}", forms)
            return None
        if not ids:
            sentence = f"no loaded folio knows the {noun} `{text}`"
            if not any(names.shown for names in indexes):
                sentence = f"`{text}` cannot be chosen: no loaded folio has any {noun} to choose"
            cursor.wrong(sentence + hint, f"{article} {noun} of a loaded folio", suggest(text, indexes), at=start)
            return None
        return ids[0]

    def _run(self, behind: re.Pattern[str]) -> str:
        """Go past an unknown name written without quotes, and return it."""
        cursor = self.cursor
        start = cursor.pos
        text = cursor.run()
        stops = [_BONUS_AHEAD.search(text, 1)] if text else []
        if behind is not BEHIND and text:
            stops.append(behind.search(f"{text} ", 1))
        ends = [stop.start() for stop in stops if stop]
        if ends:
            text = text[: min(ends)].rstrip()
            cursor.go(start + len(text))
        return text

    # -- swaps ------------------------------------------------------------------------------------------------

    def _swap(self, depth: int) -> Swap | None:
        cursor = self.cursor
        keyword = self._swap_keyword()
        if keyword is None:
            cursor.recover(";)")
            return None
        old = self.choice(keyword, depth, BEHIND_OLD)
        if old is None:
            cursor.recover(";)")
            return None
        if not cursor.match(_FOR):
            cursor.wrong(f"{cursor.shown()} does not follow here; expected `for` and what comes instead", "`for`")
            cursor.recover(";)")
            return None
        new = self.choice(keyword, depth, BEHIND)
        if new is None:
            return None
        return Swap.model_construct(keyword=keyword.id, old=old, new=new)

    def _swap_keyword(self) -> Keyword | None:
        """Tell under which keyword the thing to be swapped was picked, and go to its name.

        A keyword that is written wins, if a name that it knows follows; else what the build holds decides, and for
        what it does not hold the only keyword that knows the name.
        """
        cursor = self.cursor
        written = self.words.at(cursor.text, cursor.pos)
        keyword = self.words.by_fold.get(written[0]) if written else None
        if written and keyword and self._names_something(written[1], keyword):
            cursor.go(written[1])
            return keyword
        fits = self._fits(lambda k, id_: (k.id, id_) in self.held, self.held.keywords())
        fits = fits or self._fits(self._could_be, self.words.by_id)
        if len(fits) == 1:
            return self.words.get(fits[0])
        if fits:
            forms = [f"swap {fit} …" for fit in fits]
            asked = listed(f"`{f}`" for f in forms)
            cursor.errors.add(
                cursor.line.place(cursor.pos),
                f"what is swapped here may be of more than one kind; write {asked} to say which",
                f"one of {', '.join(forms)}",
            )
            return None
        if written and keyword:
            cursor.go(written[1])  # the name behind it is unknown, and is reported as such
            return keyword
        self._unknown_swap()
        return None

    def _names_something(self, end: int, keyword: Keyword) -> bool:
        return bool(self._ids_at(end, keyword))

    def _ids_at(self, pos: int, keyword: Keyword) -> tuple[str, ...]:
        indexes = [index(self.catalog, kind) for kind in keyword.kinds]
        ahead = ItemReader(Cursor(self.cursor.line, Errors(), pos), self.catalog, self.held)
        hit = ahead.candidates(indexes, BEHIND_OLD)
        if hit is None and ahead.cursor.match(_COUNT):
            hit = ahead.candidates(indexes, BEHIND_OLD)
        return hit.ids if hit else ()

    def _fits(self, test: Callable[[Keyword, str], bool], among: "set[str] | dict[str, Keyword]") -> list[str]:
        found = []
        for id_ in sorted(among):
            keyword = self.words.get(id_)
            if any(test(keyword, i) for i in self._ids_at(self.cursor.pos, keyword)):
                found.append(id_)
        return found

    def _could_be(self, keyword: Keyword, id_: str) -> bool:
        """Tell whether something that the build does not hold would be picked under a keyword."""
        if keyword.kinds == ("spell",):
            spell = self.catalog.spell(id_)
            cantrip = isinstance(spell, Spell) and spell.level == 0
            return keyword.id == ("cantrip" if cantrip else "spell")
        return keyword.id not in ("expertise", "feature", "ability", "mastery")

    def _unknown_swap(self) -> None:
        cursor = self.cursor
        kinds = dict.fromkeys(kind for id_ in sorted(self.held.keywords()) for kind in self.words.get(id_).kinds)
        indexes = [index(self.catalog, kind) for kind in (kinds or {"spell": None})]
        start = cursor.pos
        text = (cursor.quoted() or "") if cursor.here == '"' else self._run(BEHIND_OLD)
        if text:
            cursor.wrong(
                f"no loaded folio knows `{text}`, and nothing of that name is on the build to be swapped",
                "something that the build has",
                suggest(text, indexes),
                at=start,
            )
        else:
            cursor.wrong(f"expected what is swapped, not {cursor.shown()}", "a name", at=start)


def read_items(cursor: Cursor, catalog: Catalog, held: Held, depth: int) -> tuple[Item, ...]:
    """Read items at a cursor, up to the end of the line or the parenthesis that closes.

    held: what the build holds before this line; left as it is. On one line learning comes first, then swaps: where
    there is a swap, the line is read once to see what it learns.
    """
    if "swap" in cursor.text.casefold():
        ahead = ItemReader(Cursor(cursor.line, Errors(), cursor.pos), catalog, held)
        held = held.learning(ahead.items(depth))
    return ItemReader(cursor, catalog, held).items(depth)

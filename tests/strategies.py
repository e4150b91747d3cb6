"""Hypothesis strategies for build documents: any document that the models allow, legal or not."""

from typing import get_args

from hypothesis import strategies as st

from engine.build.document import (
    Build,
    Choose,
    Flag,
    FlagWord,
    FolioUse,
    Gain,
    Goal,
    Granted,
    Increase,
    Item,
    Line,
    Lose,
    NoteItem,
    Origin,
    Pick,
    Preparation,
    ScoreMethod,
    Scores,
    Swap,
)
from engine.build.outline.keywords import GEAR, Keyword, words
from engine.build.outline.levels import keyed
from engine.build.outline.names import index
from engine.build.plain import plain
from engine.rules.catalog import Catalog
from engine.rules.words import ABILITIES

# Parts of which hard names are made: signs of the grammar, digits, and words that mean something in an outline.
PARTS = (
    *",;():\"'+#/&-",
    *"0123456789",
    "for",
    "hp 7",
    "+2",
    "by 3",
    "at",
    "custom",
    "note",
    "Tide",
    "Reed",
    "ward",
    "É",
    "’",
    "—",
    " ",
)


def hard_text(most: int) -> st.SearchStrategy[str]:
    """Texts of signs and words of the outline, with something to see in them."""
    parts = st.lists(st.sampled_from(PARTS) | st.characters(exclude_categories=("Cs",)), min_size=1, max_size=10)
    joined = st.tuples(parts, st.sampled_from(("", " "))).map(lambda drawn: drawn[1].join(drawn[0]))
    return joined.map(lambda text: plain(plain(text)[:most])).filter(bool)


CUSTOM = Flag(flag="custom")


class Documents:
    """Strategies for the parts of documents over one catalogue.

    Parts are drawn step by step, not composed of strategies inside strategies: what nests would else grow without end.
    """

    def __init__(self, catalog: Catalog) -> None:
        self.catalog = catalog
        self.keywords = words(catalog)
        known = self.keywords.by_id.values()
        self.usable = [k.id for k in known if any(index(catalog, kind).shown for kind in k.kinds)]

    def ids(self, *kinds: str) -> st.SearchStrategy[str]:
        """Ids of what the kinds know; of an id that two of them share, the first one's."""
        return st.sampled_from([id_ for kind in kinds for id_ in index(self.catalog, kind).shown])

    def pick(self, draw: st.DrawFn, keyword: Keyword, depth: int) -> Pick:
        """Draw a pick under a keyword; depth: how many parentheses may open yet."""
        items = self.items(draw, depth - 1, 2) if depth > 0 and draw(st.integers(0, 3)) == 0 else ()
        if keyword.own and depth > 0 and draw(st.integers(0, 3)) == 0:
            id_ = draw(hard_text(80))
            items = (CUSTOM, *items)
        else:
            id_ = draw(self.ids(*keyword.kinds))
            # Behind a name that may be one's own, `custom` says that it is.
            items = items if items[:1] != (CUSTOM,) or not keyword.own else items[1:] if items[1:2] != (CUSTOM,) else ()
        count = draw(st.just(1) | st.integers(1, 9999))
        return Pick(id=id_, count=count, bonus=draw(st.just(0) | st.integers(0, 9)), items=items)

    def picks(self, draw: st.DrawFn, keyword: Keyword, depth: int) -> tuple[Pick, ...]:
        """Draw one to three picks."""
        return tuple(self.pick(draw, keyword, depth) for _ in range(draw(st.integers(1, 3))))

    def item(self, draw: st.DrawFn, depth: int, *, gift: bool = True) -> Item:
        """Draw an item of any form."""
        match draw(st.integers(0, 9 if gift else 8)):
            case 0:
                return Increase(ability=draw(st.sampled_from(ABILITIES)), amount=draw(st.integers(1, 10)))
            case 1:
                return Flag(flag=draw(st.sampled_from(get_args(FlagWord))))
            case 2:
                return NoteItem(text=draw(hard_text(2000)))
            case 3:
                return Gain(picks=self.picks(draw, GEAR, depth))
            case 4:
                return Lose(picks=self.picks(draw, GEAR, depth))
            case 5 | 6:
                keyword = self.keywords.by_id[draw(st.sampled_from(self.usable))]
                old, new = self.pick(draw, keyword, depth), self.pick(draw, keyword, depth)
                return Swap(keyword=keyword.id, old=old, new=new)
            case 9:
                return Granted(text=draw(hard_text(2000)), item=self.item(draw, depth, gift=False))
        keyword = self.keywords.by_id[draw(st.sampled_from(self.usable))]
        of = draw(st.none() | self.ids("class"))
        return Choose(keyword=keyword.id, of=of, picks=self.picks(draw, keyword, depth))

    def items(self, draw: st.DrawFn, depth: int, most: int) -> tuple[Item, ...]:
        """Draw up to `most` items."""
        return tuple(self.item(draw, depth) for _ in range(draw(st.integers(0, most))))

    def line(self, draw: st.DrawFn, level: int) -> Line:
        """Draw the line of a character level."""
        if draw(st.booleans()):
            return Line()
        hp = None if level == 1 else draw(st.none() | st.integers(1, 20))
        roll = None if hp is None else draw(st.none() | st.integers(1, 10**6))
        subclass = draw(st.none() | self.ids("subclass"))
        return Line(subclass=subclass, hp=hp, roll=roll, items=self.items(draw, 3, 3))

    def goals(self) -> st.SearchStrategy[Goal]:
        """Goals of every form."""
        level = st.integers(1, 20)
        named = st.sampled_from(
            [
                ("knows", ("spell",)),
                ("resists", ("damage-type",)),
                ("proficient", ("skill", "tool", "language", "save")),
            ]
        ).flatmap(lambda form: st.builds(Goal, form=st.just(form[0]), name=self.ids(*form[1]), level=level))
        numbers = ["hp.max", "skill.perception.passive", "save.wis", "ability.dex.score", "attack.rapier.to_hit"]
        return st.one_of(
            named,
            st.builds(
                Goal,
                form=st.just("compare"),
                name=st.sampled_from(numbers),
                value=st.integers(-99, 9999),
                when=st.sampled_from(("at", "by")),
                level=level,
            ),
            st.builds(
                Goal,
                form=st.just("check"),
                name=self.ids("skill"),
                value=st.integers(0, 100),
                dc=st.integers(1, 99),
                when=st.just("at"),
                level=level,
            ),
            st.builds(Goal, form=st.just("text"), text=hard_text(2000)),
        )

    def scores(self) -> st.SearchStrategy[Scores]:
        """Six scores by any method."""
        values = st.fixed_dictionaries({a: st.integers(1, 30) for a in ABILITIES})
        plain_ = st.builds(Scores, values=values, method=st.sampled_from(get_args(ScoreMethod)))
        return plain_ | st.builds(Scores, values=values, method=st.just("rolled"), roll=st.integers(1, 10**6))

    def origin(self, draw: st.DrawFn, kind: str) -> Origin | None:
        """Draw a species or background, or none; a background may be one's own."""
        items = self.items(draw, 2, 3)
        match draw(st.integers(0, 2)):
            case 0:
                return None
            case 1 if kind == "background":
                return Origin(name=draw(hard_text(60)), items=items)
        return Origin(id=draw(self.ids(kind)), items=() if items[:1] == (CUSTOM,) else items)

    def folios(self) -> st.SearchStrategy[tuple[FolioUse, ...]]:
        """Uses of the loaded folios, in their present or another version."""
        loaded = [
            st.just(FolioUse(id=f.id, version=f.header.version, hash=f.hash))
            | st.builds(
                FolioUse, id=st.just(f.id), version=hard_text(20) | st.just(""), hash=st.just("") | hard_text(64)
            )
            for f in self.catalog.folios[1:]
        ]
        return st.lists(st.one_of(loaded), max_size=2).map(tuple) if loaded else st.just(())

    def build(self, draw: st.DrawFn) -> Build:
        """Draw a whole document."""
        classes = draw(st.lists(self.ids("class"), max_size=20))
        lines = [(class_id, self.line(draw, level)) for level, class_id in enumerate(classes, start=1)]
        prepare = self.keywords.by_id["prepare"]
        prepared = tuple(
            Preparation(of=draw(st.none() | self.ids("class")), picks=self.picks(draw, prepare, 1))
            for _ in range(draw(st.integers(0, 2)))
        )
        return Build(
            name=draw(hard_text(60)),
            concept=draw(st.none() | hard_text(2000)),
            rules=self.catalog.folios[0].id,
            folios=draw(self.folios()),
            scores=draw(st.none() | self.scores()),
            species=self.origin(draw, "species"),
            background=self.origin(draw, "background"),
            gear=tuple(self.pick(draw, GEAR, 3) for _ in range(draw(st.integers(0, 4)))),
            prepared=prepared,
            goals=draw(st.lists(self.goals(), max_size=3).map(tuple)),
            notes=draw(st.lists(hard_text(2000), max_size=2).map(tuple)),
            **keyed(lines),
        )

    def builds(self) -> st.SearchStrategy[Build]:
        """Whole documents."""
        return _builds(self)


@st.composite
def _builds(draw: st.DrawFn, documents: Documents) -> Build:
    return documents.build(draw)

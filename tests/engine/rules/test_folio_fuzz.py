"""Folios that nobody vouches for: whatever comes in, a folio or its problems come out, and a sheet can be made of it.

More than 2,000 inputs a run: folios drawn from the published schema, and the worked ones spoilt. At least three in ten
of each sort get as far as a sheet, so that the tests do not only look at the first line of defence.
"""

import io
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Final

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine.audit import audit
from engine.build.document import Build, Choose, Line, Origin, Pick, Scores
from engine.build.outline import parse_outline, print_outline
from engine.rules.catalog import Catalog
from engine.rules.content import ChoiceList, Item, Subclass
from engine.rules.folio import Folio, FolioProblem
from engine.rules.loader import read_folio
from engine.rules.words import ABILITIES
from engine.sheet import Sheet, gather, sheet, timeline
from engine.store.archives import MAX_UNPACKED, unpacked
from engine.store.folio_files import load_shipped
from tests.engine.counting import lines_run
from tests.engine.rules.folio_inputs import FOLIOS, from_the_schema, mistyped, spoilt

EACH: Final = 670
# Reading a small folio runs some ten thousand lines, a build of it some ten thousand more.
MOST_WORK: Final = 1_500_000


@lru_cache(maxsize=1)
def release() -> Folio:
    """Return the rules release without creatures and magic items, whose names alone take most of the time."""
    whole = load_shipped("srd-5.1")
    entries = {kind: dict(found) for kind, found in whole.entries.items() if kind != "creature"}
    entries["item"] = {i: e for i, e in entries["item"].items() if isinstance(e, Item) and e.magic is None}
    return Folio(whole.header, whole.hash, entries, whole.release)


def build_of(folio: Folio) -> tuple[Build, tuple[str, ...]]:
    """Return a build that has everything of a folio that a build can have, and the states to switch on."""
    given_ = {kind: list(entries) for kind, entries in folio.entries.items()}
    subclasses = [e for e in folio.entries.get("subclass", {}).values() if isinstance(e, Subclass) and e.of]
    of = subclasses[0].of if subclasses else None
    order = [*given_.get("class", ())[:2], *([of] if of else ()), "fighter", "wizard"]
    order = [class_id for class_id in dict.fromkeys(order) if class_id is not None]
    levels: dict[str, dict[int, Line]] = {}
    if of is not None:
        levels[of] = {3: Line(subclass=subclasses[0].id)}
    lists = [e for e in folio.entries.get("choice-list", {}).values() if isinstance(e, ChoiceList)]
    items = [Choose(keyword="feat", picks=(Pick(id=id_),)) for id_ in given_.get("feat", ())[:2]]
    items += [Choose(keyword=e.keyword, picks=tuple(Pick(id=o.id) for o in e.options[:3])) for e in lists]
    levels.setdefault("fighter", {})[1] = Line(items=tuple(items)) if items else Line(hp=None, subclass="champion")
    species, background = given_.get("species", ()), given_.get("background", ())
    build = Build(
        name="Whatever Came",
        scores=Scores(values=dict.fromkeys(ABILITIES, 14)),
        species=Origin(id=species[-1]) if species else None,
        background=Origin(id=background[0]) if background else None,
        order=tuple(class_id for class_id in order for _ in range(20 // len(order))),
        levels=levels,
        gear=tuple(Pick(id=id_) for id_ in given_.get("item", ())[:3]),
    )
    return build, (*given_.get("state", ())[:3], *given_.get("condition", ())[:1])


def looked_at(build: Build, states: tuple[str, ...], catalog: Catalog, *, whole: bool) -> Sheet:
    """Return the sheet at the last level. whole: look at every other level, the audit and the outline as well."""
    if not whole:
        return sheet(build, catalog, build.top, states)
    audit(build, catalog)
    again = parse_outline(print_outline(build, catalog), lambda rules, folios: catalog)
    assert isinstance(again, Build | list)
    return timeline(build, catalog, states)[-1]


@dataclass
class Count:
    """What became of the inputs. said: the first words of some refusals, for who looks at a run."""

    inputs: int = 0
    sheets: int = 0
    most: int = 0
    said: set[str] = field(default_factory=set)

    def take(self, text: bytes) -> None:
        """Read one input, and make a sheet with it where it is a folio; one in forty is counted line by line."""
        self.inputs += 1
        if self.inputs % 40 == 0:
            made, work = lines_run(lambda: self._made(text), MOST_WORK)
            self.most = max(self.most, work)
        else:
            made = self._made(text)
        self.sheets += made

    def _made(self, text: bytes) -> bool:
        found = read_folio({"folio.yaml": text}, lambda _: (release(),))
        if isinstance(found, list):
            assert found
            for problem in found:
                assert isinstance(problem, FolioProblem)
                assert problem.sentence.strip()
                assert "\n" not in problem.sentence
                assert "pydantic" not in str(problem)
            self.said.add(found[0].sentence[:40])
            return False
        catalog = Catalog([release(), found])
        build, states = build_of(found)
        assert not gather(build, catalog, states).overfull
        found_sheet = looked_at(build, states, catalog, whole=self.inputs % 8 == 0)
        assert found_sheet.level == build.top
        assert isinstance(found_sheet.numbers["hp.max"].value, int)
        return True


@pytest.mark.parametrize("inputs", [from_the_schema, spoilt, mistyped])
def test_whatever_comes_in(inputs: Callable[[], st.SearchStrategy[bytes]]) -> None:
    count = Count()
    checks: Any = [HealthCheck.too_slow, HealthCheck.large_base_example, HealthCheck.data_too_large]

    @settings(max_examples=EACH, deadline=None, database=None, suppress_health_check=checks)
    @given(inputs())
    def each(text: bytes) -> None:
        count.take(text)

    each()
    assert count.inputs >= EACH
    assert count.sheets >= 0.3 * count.inputs, sorted(count.said)
    assert len(count.said) >= 10  # and the rest is refused for many different reasons
    assert 3 * EACH >= 2000


def packed() -> bytes:
    """Return a worked folio as a zip."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted((FOLIOS / "coast-pilots").rglob("*.yaml")):
            archive.write(path, path.relative_to(FOLIOS).as_posix())
    return made.getvalue()


PACKED: Final = packed()


@settings(max_examples=300, deadline=None, database=None)
@given(st.lists(st.tuples(st.integers(0, len(PACKED) - 1), st.integers(0, 255)), min_size=1, max_size=3))
def test_zips_with_bytes_changed(changes: list[tuple[int, int]]) -> None:
    """A spoilt zip gives its files or one sentence, and what it unpacks to never goes beyond the limit."""
    data = bytearray(PACKED)
    for at, byte in changes:
        data[at] = byte
    found = unpacked("pilots.zip", bytes(data))
    if isinstance(found, FolioProblem):
        assert found.sentence.strip()
        return
    assert sum(map(len, found.values())) <= MAX_UNPACKED
    assert not any(path.startswith("/") or ".." in path.split("/") for path in found)
    assert isinstance(read_folio(found, lambda _: (release(),)), Folio | list)

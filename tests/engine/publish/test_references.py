"""The reference builds: legal, complete, and made by the rule that stands beside them."""

from itertools import pairwise
from pathlib import Path

import pytest

from engine.audit import audit
from engine.build.document import Build, Choose
from engine.build.outline import parse_outline, print_outline
from engine.publish.references import ORDER, outlines
from engine.rules.catalog import Catalog
from engine.rules.words import ABILITIES
from engine.sheet import timeline

# SRD 5.2.1, Character Creation (common practice under 5.1).
STANDARD_ARRAY = [15, 14, 13, 12, 10, 8]
FIRST_SKILLS = ["perception", "stealth", "athletics", "acrobatics", "persuasion", "arcana", "investigation", "survival"]


@pytest.fixture(scope="session")
def builds(release: Catalog) -> dict[str, Build]:
    found = {}
    for text in outlines():
        build = parse_outline(text, release)
        assert isinstance(build, Build), build
        found[build.order[0]] = build
    return found


def test_there_is_one_for_each_class_of_the_release_and_no_more(builds: dict[str, Build], release: Catalog) -> None:
    assert sorted(builds) == sorted(named.id for named in release.every("class")) == sorted(ORDER)
    folder = Path(__file__).parents[3] / "engine" / "publish" / "references"
    assert sorted(path.stem for path in folder.glob("*.outline")) == sorted(builds)
    assert all(build.order == (class_id,) * 20 for class_id, build in builds.items())


@pytest.mark.parametrize("class_id", sorted(ORDER))
def test_each_is_legal_and_finished_and_stands_as_it_is_printed(
    class_id: str, builds: dict[str, Build], release: Catalog
) -> None:
    build = builds[class_id]
    assert [f.message for f in audit(build, release) if f.severity != "advice"] == []
    text = outlines()[sorted(ORDER).index(class_id)]
    assert print_outline(build, release) == text


@pytest.mark.parametrize("class_id", sorted(ORDER))
def test_each_follows_the_written_rule(class_id: str, builds: dict[str, Build], release: Catalog) -> None:
    build = builds[class_id]
    order = ORDER[class_id].split()
    assert sorted(order) == sorted(ABILITIES)
    assert build.scores is not None
    assert [build.scores.values[a] for a in order] == STANDARD_ARRAY  # type: ignore[index]
    assert build.species is not None
    assert build.background is not None
    assert (build.species.id, build.background.id) == ("human", "acolyte")
    # Increases go into the first score of the order that is below 20.
    sheets = timeline(build, release)
    for before, after in pairwise(sheets):
        scores = [[sheet.numbers[f"ability.{a}.score"].value for a in order] for sheet in (before, after)]
        for place, (old, new) in enumerate(zip(*scores, strict=True)):
            if new > old and after.level != 20:  # at 20 the barbarian's own feature raises two scores
                assert all(score >= 20 for score in scores[1][:place])
    # No feat, nothing magical, and skills in the order of the rule.
    items = [item for _, _, _, line in build.lines() for item in line.items]
    assert not any(isinstance(item, Choose) and item.keyword == "feat" for item in items)
    for item in items:
        if isinstance(item, Choose) and item.keyword in ("skill", "expertise"):
            places = [FIRST_SKILLS.index(pick.id) for pick in item.picks if pick.id in FIRST_SKILLS]
            assert places == sorted(places)
    gear = [*build.gear, *(pick for item in items if item.kind == "gain" for pick in item.picks)]  # type: ignore[union-attr]
    things = [release.item(pick.id) for pick in gear]
    assert all(thing is not None and thing.magic is None for thing in things)

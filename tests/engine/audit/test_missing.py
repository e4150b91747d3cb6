"""Content that went away: a stored build keeps its ids, and nothing that looks at it breaks."""

from collections.abc import Iterator
from random import Random
from typing import Any

import pytest

from engine.audit import audit, difference, goals, legal_picks, open_choices
from engine.build.document import Build, dump
from engine.rules.catalog import Catalog
from tests.engine.audit.bases import BASES
from tests.engine.audit.legal_builds import author
from tests.engine.audit.test_illegal import parsed

GONE = "pearl-diver"
KEYWORDS = ("skill", "spell", "feat", "increase", "subclass", "prepare", "copied", "invocation", "species", "lose")


def places(data: Any) -> Iterator[tuple[Any, Any]]:
    """Yield (container, key) of every id in a stored build."""
    if isinstance(data, dict):
        for key, value in data.items():
            if key in ("id", "subclass", "of") and isinstance(value, str):
                yield data, key
            yield from places(value)
    elif isinstance(data, list):
        for value in data:
            yield from places(value)


def looked_at(build: Build, catalog: Catalog) -> None:
    """Ask everything that the audit can be asked."""
    found = audit(build, catalog)
    assert found == audit(build, catalog)
    assert [f.level or 0 for f in found] == sorted(f.level or 0 for f in found)
    goals(build, catalog)
    for level in range(build.top + 2):
        open_choices(build, catalog, level)
    for keyword in KEYWORDS:
        legal_picks(build, catalog, max(1, build.top), keyword)


@pytest.mark.parametrize("name", BASES)
def test_each_id_may_go_away(name: str, release: Catalog) -> None:
    """Each id of a build in turn is one that no folio gives: it is named where it stands, and nothing breaks."""
    build = parsed(BASES[name], release)
    count = sum(1 for _ in places(dump(build)))
    for index in range(count):
        data = dump(build)
        container, key = list(places(data))[index]
        container[key] = GONE
        broken = Build.model_validate(data)
        found = [f for f in audit(broken, release) if f.subject == GONE]
        # What a swap gives up, and a class named beside a keyword, are not held rather than missing.
        assert {f.code for f in found} & {"missing-content", "swap-not-held"} or key == "of", (container, key)
    # Enough of them at once is looked at from every side.
    dice = Random(3)
    for _ in range(5):
        data = dump(build)
        for container, key in dice.sample(list(places(data)), 5):
            container[key] = GONE
        looked_at(Build.model_validate(data), release)


def test_a_class_may_go_away(release: Catalog) -> None:
    """A class that no folio gives takes its lines' meaning with it and is named once."""
    build = parsed(BASES["reed"], release)
    data = dump(build)
    data["order"] = [GONE if c == "ranger" else c for c in data["order"]]
    data["levels"][GONE] = data["levels"].pop("ranger")
    broken = Build.model_validate(data)
    [found] = [f for f in audit(broken, release) if f.severity in ("breaks-rules", "needs-ruling")]
    assert (found.code, found.level, found.severity) == ("missing-content", 5, "needs-ruling")
    looked_at(broken, release)
    assert difference(build, broken, release, release).findings_new


def test_what_hangs_on_a_missing_background_is_not_judged(release: Catalog) -> None:
    """Choices that only the missing content opens bring no findings of their own."""
    build = parsed(BASES["scribe"], release)
    data = dump(build)
    data["background"]["id"] = GONE
    found = audit(Build.model_validate(data), release)
    assert [f.code for f in found if f.severity in ("breaks-rules", "needs-ruling")] == ["missing-content"]


@pytest.mark.parametrize("seed", range(8))
def test_random_builds_with_random_gaps(seed: int, release: Catalog) -> None:
    """Drawn builds with a tenth of their ids gone are looked at without breaking."""
    dice = Random(seed)
    build = author(release, dice).write(dice.choice(["wizard", "warlock", "ranger", "druid"]), 14)
    data = dump(build)
    found = list(places(data))
    for container, key in dice.sample(found, len(found) // 10 + 1):
        container[key] = GONE
    looked_at(Build.model_validate(data), release)


def test_empty_builds(release: Catalog) -> None:
    """A build that has only a name is unfinished and breaks nothing."""
    build = Build(name="Blank Chart")
    looked_at(build, release)
    assert [f.code for f in audit(build, release)] == ["no-background", "no-levels", "no-scores", "no-species"]

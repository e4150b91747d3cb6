"""Curves as data: what is drawn of which builds, where choices are marked, and what is refused."""

from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from engine.build.document import Build, dump
from engine.build.outline import parse_outline
from engine.problem import Refused
from engine.publish.plots import Plot
from engine.rules.catalog import Catalog
from engine.services.weigh import against_of, curve_of, standing_of
from engine.store.folio_files import load_shipped
from tests.engine.services.world import refused

SEED = Path(__file__).parents[3] / "bot" / "room" / "seed"
EMPTY = "Build: Nobody Yet\n"


@pytest.fixture(scope="module")
def release() -> Catalog:
    return Catalog([load_shipped("srd-5.1")])


def document(text: str, release: Catalog) -> dict[str, Any]:
    found = parse_outline(text, release)
    assert isinstance(found, Build)
    return dump(found)


@pytest.fixture(scope="module")
def warden(release: Catalog) -> dict[str, Any]:
    return document((SEED / "reed-warden.outline").read_text(encoding="utf-8"), release)


@pytest.fixture(scope="module")
def archivist(release: Catalog) -> dict[str, Any]:
    return document((SEED / "lighthouse-archivist.outline").read_text(encoding="utf-8"), release)


def drawn(found: Plot | Refused) -> Plot:
    assert isinstance(found, Plot), found
    return found


def test_choices_are_marked_where_a_number_jumps_and_not_where_the_bonus_rises(warden: dict[str, Any]) -> None:
    """Stealth moves by 2 with the bonus at 5, 9, 13, 17 (expertise) and by a choice of Dexterity at 12 alone."""
    [panel] = drawn(curve_of([("Warden", warden)], ["Stealth"])).panels
    points = dict(panel.series[0].points)
    assert {level for level in range(2, 21) if points[level] != points[level - 1]} == {5, 9, 12, 13, 17}
    assert [(label.x, label.y, label.text) for label in panel.labels] == [
        (12.0, points[12], "level 12 Rogue: +1 Dex, +1 Con")
    ]


def test_of_a_number_that_moves_at_every_level_only_the_largest_moves_are_marked(warden: dict[str, Any]) -> None:
    [panel] = drawn(curve_of([("Warden", warden)], ["hp.max"])).panels
    points = panel.series[0].points
    moves = {x: y - before for (_, before), (x, y) in pairwise(points)}
    marked = [label.x for label in panel.labels]
    assert len(marked) == 3
    assert min(moves[x] for x in marked) >= max(move for x, move in moves.items() if x not in marked)


def test_labels_of_several_builds_say_whose_they_are(warden: dict[str, Any], archivist: dict[str, Any]) -> None:
    plot = drawn(curve_of([("Warden", warden), ("Archivist", archivist)], ["Wisdom save", "ac"]))
    assert plot.title == "Wisdom save, armor class, levels 1 to 20"
    # The archivist's Wisdom save rises with its bonus only.
    assert [label.text for label in plot.panels[0].labels] == [
        "Warden, level 4 Rogue: +1 Dex, +1 Wis",
        "Warden, level 8 Ranger hp 7: +2 Wis; swap Fog Cloud for Longstrid…",
        "Warden, level 16 Rogue: +2 Wis",
    ]
    assert {label.text.partition(",")[0] for label in plot.panels[1].labels} == {"Warden", "Archivist"}
    assert plot.alt.startswith("Wisdom save, armor class, levels 1 to 20. Warden: Wisdom save +2 at level 1, +5 at ")


def test_a_long_message_ends_at_a_word(warden: dict[str, Any], archivist: dict[str, Any]) -> None:
    sides = [(f"{who} {'x' * 40}", side) for who in ("one", "two") for side in (warden, archivist)]
    plot = drawn(curve_of(sides, ["hp.max", "ac", "Wisdom save"]))
    assert len(plot.alt) <= 1024
    assert plot.alt.endswith("…")


def test_a_number_that_one_build_lacks_is_drawn_of_the_other(warden: dict[str, Any], release: Catalog) -> None:
    fighter = document("Build: Plain\n1-3 Fighter\n", release)
    plot = drawn(curve_of([("Warden", warden), ("Plain", fighter)], ["casting.ranger.save_dc"]))
    assert [len(series.points) for series in plot.panels[0].series] == [15, 0]
    assert "Plain has no" in plot.alt


def test_a_picture_says_which_builds_are_not_finished(warden: dict[str, Any], release: Catalog) -> None:
    half = document("Build: Half Done\n1-3 Rogue\n", release)
    whole = drawn(curve_of([("Warden", warden)], ["ac"])).source
    assert whole == "Worked out by Buildmoot; rules: SRD 5.1"
    both = drawn(curve_of([("Warden", warden), ("Half", half)], ["ac"])).source
    assert both == f"{whole}. Partial, since not finished and counted as they stand: Half"


def test_what_cannot_be_drawn_is_refused(warden: dict[str, Any], release: Catalog) -> None:
    one = ("Warden", warden)
    refused(curve_of([], ["ac"]), "too-many")
    refused(curve_of([one] * 5, ["ac"]), "too-many")
    refused(curve_of([one], []), "too-many")
    refused(curve_of([one], ["ac"] * 4), "too-many")
    assert "Nearest: Stealth" in refused(curve_of([one], ["stelth"]), "no-such-number")
    sentence = refused(curve_of([one], ["zzzzzzzzzz"]), "no-such-number")
    assert "Nearest" not in sentence
    empty = document(EMPTY, release)
    assert "has no levels yet" in refused(curve_of([("Nobody", empty)], ["ac"]), "no-such-level")
    broken = {**warden, "rules": "tide-tables"}
    for found in (curve_of([("x", broken)], ["ac"]), standing_of(broken), against_of(broken, 1, None, None, None)):
        refused(found, "no-such-rules")


def test_chances_are_refused_for_levels_and_creatures_that_are_not_there(
    warden: dict[str, Any], release: Catalog
) -> None:
    assert "levels 1 to 20; level 21 is none" in refused(against_of(warden, 21, None, None, None), "no-such-level")
    empty = document(EMPTY, release)
    assert "no levels yet" in refused(against_of(empty, None, None, None, None), "no-such-level")
    refused(against_of(warden, None, "five", None, None), "bad-challenge")
    refused(against_of(warden, None, "29-30", "beast", None), "no-creatures")
    found = against_of(warden, None, "5", None, None)
    assert not isinstance(found, Refused)
    assert (found.level, found.words) == (20, "of challenge 5")

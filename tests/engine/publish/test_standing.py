"""Standing: percentiles against scipy, damage against the exact distributions, creatures against plain counting."""

import json
import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from statistics import median_low

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import percentileofscore

from engine.build.document import Build
from engine.build.outline import parse_outline
from engine.odds.attack import Attack, answer_attack
from engine.odds.fell import Creature as Target
from engine.odds.fell import Fell, answer_fell
from engine.odds.sources.attacks import attack
from engine.odds.sources.figures import Figures
from engine.problem import Refused
from engine.publish.references import outlines
from engine.publish.standing import MEASURES, against, chosen, percentile, standing, typical
from engine.publish.standing.damage import Level, Swing, fails, mean_of, swings
from engine.publish.standing.ranks import rank
from engine.publish.standing.spells import falls
from engine.publish.standing.standing import references
from engine.rules.catalog import Catalog
from engine.sheet.gather import gather
from engine.sheet.plan import Plan

CREATURES = Path(__file__).parents[3] / "engine" / "rules" / "folios" / "srd-5.1" / "creatures"


@pytest.fixture(scope="session")
def stat_lines() -> list[dict]:
    """The stat lines as they stand in the files, read without the engine; other shapes of a creature left out."""
    lines = [line for path in CREATURES.glob("*.yaml") for line in yaml.safe_load(path.read_text(encoding="utf-8"))]
    return [line for line in lines if not line.get("form_of")]


@pytest.fixture(scope="session")
def reference(release: Catalog) -> dict[str, Build]:
    builds = [parse_outline(text, release) for text in outlines()]
    return {build.order[0]: build for build in builds if isinstance(build, Build)}


# -- ranks ------------------------------------------------------------------------------------------------------------


@given(st.lists(st.integers(-5, 30), min_size=1, max_size=15), st.integers(-6, 31))
def test_percentiles_are_those_of_scipy_with_equal_ones_counted_half(others: list[int], value: int) -> None:
    assert math.isclose(percentile(others, value), percentileofscore(others, value, kind="mean"), abs_tol=1e-9)
    found = rank(others, value)
    assert (found.below, found.equal, found.of) == (
        sum(other < value for other in others),
        others.count(value),
        len(others),
    )


def test_every_rank_of_a_standing_is_the_percentile_among_the_references(warden: Build, release: Catalog) -> None:
    among = references(release)
    assert among is not None
    document = standing(warden, release).as_json()
    assert set(document) == {"levels", "strengths", "weaknesses", "weak_levels"}
    assert [row["level"] for row in document["levels"]] == list(range(1, 9))
    for row in document["levels"]:
        assert set(row["ranks"]) == set(MEASURES)
        for name, found in row["ranks"].items():
            assert set(found) == {"value", "percentile", "of"}
            assert found["of"] == 12
            values = among.values[row["level"] - 1][name]
            expected = percentileofscore(list(values), found["value"], kind="mean")
            assert math.isclose(found["percentile"], expected, abs_tol=1e-4), (row["level"], name)


def test_the_values_are_those_of_the_sheet(warden: Build, release: Catalog) -> None:
    # Worked out by hand from the tables of SRD 5.1, as on the cards page: level 8.
    ranks = standing(warden, release).ranks[7]
    expected = {
        "hp.max": 56, "ac": 14, "initiative": 3, "speed.walk": 30, "skill.perception.passive": 20, "save.wis": 4,
        "save.str": -1, "skills.trained": 9, "skills.best": 10, "save_dc.highest": 15,
    }  # fmt: skip
    assert {name: ranks[name].value for name in expected} == expected
    # Shortbow +8, 1d6+3, sneak attack 2d6 and Colossus Slayer 1d8 once a turn, against armor class 15 (level 8): hits
    # on 7 to 20 (14 faces, one of them critical). 14/20 x (6.5 + 7 + 4.5) + 1/20 x (3.5 + 7 + 4.5).
    assert math.isclose(ranks["damage.round"].value, 0.7 * 18 + 0.05 * 15)
    assert ranks["damage.ranged"].value == ranks["damage.round"].value


def test_strengths_and_weaknesses_are_the_extremes_and_carry_figures(warden: Build, release: Catalog) -> None:
    found = standing(warden, release)
    means = {name: sum(level[name].percentile for level in found.ranks) / 8 for name in MEASURES}
    order = sorted(means, key=lambda name: -means[name])
    assert len(found.strengths) == len(found.weaknesses) == 3
    for name, sentence in zip(order, found.strengths, strict=False):
        assert sentence.casefold().startswith(MEASURES[name].casefold())
        assert f"percentile {means[name]:.0f}" in sentence
        assert "of 12 reference builds" in sentence
    assert {s.partition(":")[0].casefold() for s in found.weaknesses} == {MEASURES[n].casefold() for n in order[-3:]}
    assert found.partial == ("Reed Warden ends at level 8; nothing is said of later ones",)


def test_a_build_that_is_worse_in_everything_lags_at_every_level(release: Catalog) -> None:
    outline = (
        "Build: Anchor\nScores: Str 8, Dex 8, Con 8, Int 8, Wis 8, Cha 8 (manual)\nSpecies: Human (language Elvish)\n"
        "Background: Acolyte (languages Elvish, Giant)\n1-20 Sorcerer"
    )
    build = parse_outline(outline, release)
    assert isinstance(build, Build), build
    found = standing(build, release)
    assert found.weak_levels == ((1, 20),)
    said = " ".join(found.gaps)
    assert "No ranged attack at level 20" in said
    assert "Nothing against a flyer" in said
    assert "No healing" in said
    assert "Easily held: Wisdom save" in said
    # It has all its levels, and nothing is chosen on any of them.
    [left] = found.partial
    assert left.startswith("the build is not finished and counts as it stands; still to choose: Sorcerous Origin")
    whole = parse_outline(outlines()[0], release)
    assert isinstance(whole, Build)
    assert standing(whole, release).partial == ()


def test_builds_that_nothing_can_be_said_of_say_so(release: Catalog) -> None:
    empty = standing(Build(name="Keel Layer"), release)
    assert (empty.ranks, empty.partial) == ((), ("Keel Layer has no levels yet",))


@pytest.mark.parametrize(
    ("outline", "words"),
    [
        ("Gear: Rapier\n1-3 Rogue", "Damage of one type only, piercing: 16 of 322 creatures are immune"),
        ("Gear: Quarterstaff\n1 Bard: spells Charm Person, Animal Friendship", "Charms as main means: 2 of its 2"),
    ],
)
def test_gaps_name_what_is_missing_with_counts(outline: str, words: str, release: Catalog) -> None:
    build = parse_outline(
        f"Build: Cairn\nScores: Str 10, Dex 10, Con 10, Int 10, Wis 10, Cha 10 (manual)\n{outline}", release
    )
    assert isinstance(build, Build), build
    assert any(words in gap for gap in standing(build, release).gaps)


def test_counts_of_immune_and_flying_creatures_are_those_of_the_files(stat_lines: list[dict]) -> None:
    assert len(stat_lines) == 322
    piercing = [c for c in stat_lines if any(word.startswith("piercing") for word in c.get("immunities", ()))]
    assert len(piercing) == 16


# -- typical creatures ------------------------------------------------------------------------------------------------


def test_typical_figures_are_the_middle_of_the_creatures_of_that_challenge(
    release: Catalog, stat_lines: list[dict]
) -> None:
    for found in typical(release):
        here = [c for c in stat_lines if found.low <= Fraction(c["challenge"]) <= found.high]
        assert found.count == len(here) >= 5
        assert found.ac == median_low(c["ac"] for c in here)
        assert found.hp == median_low(c["hp"] for c in here)
        wis = [c.get("saves", {}).get("wis", (c["scores"]["wis"] - 10) // 2) for c in here]
        assert found.saves["wis"] == median_low(wis)
        if found.low < found.high:  # widened only as far as needed
            narrower = [c for c in here if found.low < Fraction(c["challenge"]) < found.high]
            assert len(narrower) < 5


def test_best_attacks_of_creatures_are_those_of_the_printed_stat_blocks(release: Catalog) -> None:
    path = Path(__file__).parents[2] / "reference" / "srd-5.1-attacks.json"
    rows = [row for row in json.loads(path.read_text(encoding="utf-8")) if "id" in row]
    assert len(rows) == 330
    figures = {row["id"]: row["attack"] for row in rows}
    creatures = {named.id: release.creature(named.id) for named in release.every("creature")}
    assert {id_: c.attack for id_, c in creatures.items() if c is not None and c.attack is not None} == figures


# -- damage -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text", ["1d8+3", "2d6+1d4", "3", "1d12-1", "1d4-2", "2d6 reroll 2 or lower+5", "8d8+0", "1d6-9"]
)
def test_means_of_dice_are_those_of_the_distributions(text: str) -> None:
    hit = answer_attack(Attack(bonus=0, ac=1, damage=text))
    critical = answer_attack(Attack(bonus=30, ac=1, damage=text, critical_from=2))
    assert not isinstance(hit, Refused)
    assert not isinstance(critical, Refused)
    # 19 faces of 20 hit, all of them criticals.
    assert math.isclose(mean_of(text)[0], hit.per_hit, abs_tol=1e-9)
    assert math.isclose(mean_of(text)[1], critical.damage.mean() / 0.95, abs_tol=1e-9)


@pytest.mark.parametrize("class_id", ["barbarian", "fighter", "monk", "paladin", "rogue", "warlock", "wizard"])
@pytest.mark.parametrize("level", [1, 5, 11, 20])
def test_damage_a_round_is_the_mean_of_the_exact_distribution(
    class_id: str, level: int, reference: dict[str, Build], release: Catalog
) -> None:
    build = reference[class_id]
    figures = Figures(build, release, level)
    compared = 0
    for swing in swings(Level(Plan(gather(build, release)), level)):
        if swing.dc is not None or swing.off_hand is not None:
            continue
        made = attack(figures, swing.key)
        assert not isinstance(made, Refused)
        exact = answer_attack(Attack(ac=16, **made.fields))
        assert not isinstance(exact, Refused)
        assert math.isclose(swing.mean(16, 0), exact.damage.mean(), abs_tol=1e-9), swing.key
        compared += 1
    assert compared > 0


def test_two_weapons_share_what_comes_once_a_turn(release: Catalog) -> None:
    outline = (
        "Build: Twin Lanterns\nScores: Str 10, Dex 16, Con 10, Int 10, Wis 10, Cha 10 (manual)\n"
        "Gear: Shortsword, Shortsword (off-hand)\n1-3 Rogue"
    )
    build = parse_outline(outline, release)
    assert isinstance(build, Build), build
    found = swings(Level(Plan(gather(build, release)), 3))
    (pair,) = [swing for swing in found if swing.off_hand is not None]
    # +5 against armor class 15: hits on 10 to 20, one face critical. Main hand 1d6+3, other hand 1d6, sneak attack 2d6
    # on the first hit: SRD 5.1, Combat, Two-Weapon Fighting; Classes, Rogue, Sneak Attack.
    hit, critical = 10 / 20, 1 / 20
    main = hit * 6.5 + critical * 10
    other = hit * 3.5 + critical * 7
    first = hit * 7 + critical * 14
    assert math.isclose(pair.mean(15, 0), main + other + first + (1 - hit - critical) * first)


def test_save_cantrips_count_by_the_chance_to_fail(reference: dict[str, Build], release: Catalog) -> None:
    found = swings(Level(Plan(gather(reference["cleric"], release)), 5))
    (flame,) = [swing for swing in found if swing.key == "sacred-flame"]
    # SRD 5.1, Spells, Sacred Flame: 2d8 from level 5, Dexterity. Wisdom 18 at level 5 gives DC 15; against +1 a
    # save fails on 1 to 13.
    assert (flame.dc, flame.ability) == (15, "dex")
    assert math.isclose(flame.mean(30, 1), 9 * 13 / 20)


# -- against creatures ------------------------------------------------------------------------------------------------


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)


@pytest.mark.parametrize(
    ("challenge", "kind"), [("5-8", None), (None, "dragon"), ("1/4", None), (None, None), ("17 to 30", None)]
)
def test_chances_against_creatures_are_those_of_counting_faces(
    challenge: str | None, kind: str | None, warden: Build, release: Catalog, stat_lines: list[dict]
) -> None:
    some = chosen(release, challenge, kind)
    assert not isinstance(some, Refused)
    found = against(warden, release, 8, some)
    low, _, high = (challenge or "0-30").replace(" to ", "-").partition("-")
    mine = [
        c
        for c in stat_lines
        if Fraction(low) <= Fraction(c["challenge"]) <= Fraction(high or low) and kind in (None, c["type"])
    ]
    assert found.count == len(mine) > 0

    def bonus(creature: dict, ability: str) -> int:
        return creature.get("saves", {}).get(ability, (creature["scores"][ability] - 10) // 2)

    def failing(creature: dict, ability: str) -> float:
        faces = range(1, 21)
        if creature.get("magic_resistance"):
            return _mean([max(a, b) + bonus(creature, ability) < 15 for a in faces for b in faces])
        return _mean([face + bonus(creature, ability) < 15 for face in faces])

    # Save DC 15, armor class 14, shortbow +8: the figures of the cards page.
    assert (found.dc, found.ac) == (15, 14)
    for ability, chance in found.fails.items():
        assert math.isclose(chance, _mean([failing(c, ability) for c in mine]), abs_tol=1e-12)
        first = _mean([0 if c.get("legendary_resistance") else failing(c, ability) for c in mine])
        assert math.isclose(found.sticks[ability], first, abs_tol=1e-12)
    hits = _mean([_mean([f == 20 or (f > 1 and f + 8 >= c["ac"]) for f in range(1, 21)]) for c in mine])
    assert math.isclose(found.hits, hits, abs_tol=1e-12)
    attacking = [c["attack"] for c in mine if "attack" in c]
    hit_by = _mean([_mean([f == 20 or (f > 1 and f + b >= 14) for f in range(1, 21)]) for b in attacking])
    assert found.hit_by is not None
    assert math.isclose(found.hit_by, hit_by, abs_tol=1e-12)
    assert found.harmless == len(mine) - len(attacking)
    assert found.resisting == sum(bool(c.get("magic_resistance")) for c in mine)
    edges = [match.edge for match in found.best]
    assert edges == sorted(edges, reverse=True)
    assert found.worst[0].edge <= found.best[-1].edge


def test_what_takes_out_by_hit_points_is_counted_exactly(reference: dict[str, Build], release: Catalog) -> None:
    outline = "\n".join(
        (
            "Build: Hush", "Scores: Str 8, Dex 14, Con 14, Int 16, Wis 10, Cha 10 (manual)",
            "1 Wizard: spells Sleep, Color Spray", "2-3 Wizard",
        )
    )  # fmt: skip
    build = parse_outline(outline, release)
    assert isinstance(build, Build), build
    some = chosen(release, "1/4")
    assert not isinstance(some, Refused)
    found = against(build, release, 3, some)
    # Level 3 has slots of level 2: sleep 5d8+2d8, which passes over undead and those that cannot be charmed.
    assert list(found.endings) == ["Sleep (5d8+2d8)", "Color Spray (6d10+2d10)"]
    chances = []
    for creature in some.creatures:
        one = answer_fell(Fell(dice="7d8", creatures=(Target(name="x", hit_points=creature.hp),)))
        assert not isinstance(one, Refused)
        spared = creature.type == "undead" or "charmed" in creature.condition_immunities
        chances.append(0.0 if spared else one.falls[0].chance)
    assert math.isclose(found.endings["Sleep (5d8+2d8)"], _mean(chances), abs_tol=1e-12)


def test_a_limit_of_hit_points_takes_out_whoever_is_at_or_below_it(release: Catalog) -> None:
    # SRD 5.1, Spells: Power Word Kill at 100 hit points or fewer; Power Word Stun at 150, not who cannot be stunned.
    kill, stun = release.spell("power-word-kill"), release.spell("power-word-stun")
    assert kill is not None
    assert stun is not None
    spared = 0
    for named in release.every("creature"):
        creature = release.creature(named.id)
        assert creature is not None
        assert falls(creature, kill, "") == (1.0 if creature.hp <= 100 else 0.0)
        firm = "stunned" in creature.condition_immunities
        spared += firm
        assert falls(creature, stun, "") == (1.0 if creature.hp <= 150 and not firm else 0.0)
    assert spared > 0


@pytest.mark.parametrize(("dc", "bonus", "chance"), [(15, 5, 0.45), (10, 9, 0.0), (40, 0, 1.0), (1, 0, 0.0)])
def test_no_face_of_a_save_is_automatic(dc: int, bonus: int, chance: float) -> None:
    assert math.isclose(fails(dc, bonus), chance)
    assert math.isclose(fails(dc, bonus, advantage=True), chance**2)


@pytest.mark.parametrize(
    ("options", "code", "words"),
    [
        ({"name": "Aboleht"}, "no-such-creature", "Aboleth"),
        ({"kind": "dragoon"}, "no-such-type", "dragon"),
        ({"challenges": "hard"}, "bad-challenge", "3-5"),
        ({"challenges": "18"}, "no-creatures", "of challenge 18"),
    ],
)
def test_creatures_that_are_not_there_are_refused_in_words(
    options: dict[str, str], code: str, words: str, release: Catalog
) -> None:
    refused = chosen(release, **options)
    assert isinstance(refused, Refused)
    assert refused.code == code
    assert words in refused.sentence


def test_spells_of_a_whole_list_count_for_who_prepares_from_it(release: Catalog) -> None:
    """A cleric learns no spell and may prepare any (SRD 5.1, Classes, Cleric, Spellcasting)."""
    cleric = parse_outline("Build: Bell Warden\n1-9 Cleric\n", release)
    assert isinstance(cleric, Build)
    found = standing(cleric, release)
    assert not any("No healing" in gap for gap in found.gaps)
    fighter = parse_outline("Build: Plain Oar\n1-9 Fighter\n", release)
    assert isinstance(fighter, Build)
    # Second Wind is a pool that restores hit points; take a rogue for one that has nothing.
    rogue = parse_outline("Build: Wet Rope\n1-9 Rogue\n", release)
    assert isinstance(rogue, Build)
    assert any("No healing" in gap for gap in standing(rogue, release).gaps)
    assert not any("No healing" in gap for gap in standing(fighter, release).gaps)


def test_a_limited_effect_is_counted_for_a_build_that_has_it(release: Catalog) -> None:
    """Sleep at level 1: 5d8 hit points (SRD 5.1, Spells, Sleep); a bard of level 1 has only slots of that level."""
    bard = parse_outline("Build: Lull Singer\n1 Bard: spells Sleep\n", release)
    assert isinstance(bard, Build)
    among = chosen(release, name="Goblin")
    assert not isinstance(among, Refused)
    found = against(bard, release, 1, among)
    goblin = release.creature("goblin")
    assert goblin is not None
    # Counted by plain convolution: the chance that five d8 reach the goblin's hit points.
    ways = [1]
    for _ in range(5):
        ways = _more(ways)
    total = sum(ways)
    reaching = sum(count for place, count in enumerate(ways) if place + 5 >= goblin.hp)
    assert found.endings == {"Sleep (5d8)": pytest.approx(reaching / total)}


def _more(ways: list[int]) -> list[int]:
    """Return the ways to reach each total with one d8 more; place 0 is the lowest total."""
    made = [0] * (len(ways) + 7)
    for place, count in enumerate(ways):
        for face in range(8):
            made[place + face] += count
    return made


def test_a_disadvantage_on_attacks_lowers_damage(release: Catalog) -> None:
    """The worse of two faces: (2 * rank - 1) / 400 for each, counted here over all pairs (closed form)."""
    swing = Swing(key="x", called="x", attacks=1, hit=10.0, critical=20.0, bonus=5, edge=-1)
    pairs = [min(a, b) for a in range(1, 21) for b in range(1, 21)]
    hit = sum(face != 20 and face > 1 and face + 5 >= 15 for face in pairs) / 400
    critical = sum(face == 20 for face in pairs) / 400
    assert swing.chances(15) == (pytest.approx(hit), pytest.approx(critical))
    assert swing.mean(15, 0) == pytest.approx(10 * hit + 20 * critical)
    better = Swing(key="x", called="x", attacks=1, hit=10.0, critical=20.0, bonus=5, edge=1)
    best = [max(a, b) for a in range(1, 21) for b in range(1, 21)]
    assert better.chances(15)[1] == pytest.approx(sum(face == 20 for face in best) / 400)


@pytest.mark.parametrize("text", ["2d6 and more", "d", "+"])
def test_what_is_no_sum_of_dice_is_an_error_of_the_caller(text: str) -> None:
    with pytest.raises(ValueError, match="no sum of dice"):
        mean_of(text)


def test_a_shield_leaves_no_hand_for_a_second_weapon(release: Catalog) -> None:
    """SRD 5.1, Combat, Two-Weapon Fighting needs a weapon in each hand."""
    outline = "Build: Two Oars\nGear: {}Shortsword, Dagger (off-hand)\n1 Fighter: style Two-Weapon Fighting\n"
    means = []
    for gear in ("", "Shield, "):
        build = parse_outline(outline.format(gear), release)
        assert isinstance(build, Build), build
        means.append(standing(build, release).ranks[0]["damage.round"].value)
    assert means[0] > means[1] > 0


def test_levels_and_catalogues_without_figures_are_refused(release: Catalog) -> None:
    among = chosen(release, name="Goblin")
    assert not isinstance(among, Refused)
    build = parse_outline("Build: Plain Oar\n1 Fighter\n", release)
    assert isinstance(build, Build)
    with pytest.raises(ValueError, match="levels 1 to 1; 2 is none"):
        against(build, release, 2, among)


def test_a_release_without_reference_builds_has_no_standing(release: Catalog) -> None:
    folio = release.folios[0]
    header = folio.header.model_copy(update={"id": "tide-rules", "title": "Tide Rules"})
    other = Catalog([replace(folio, header=header)])
    build = Build(name="Keel Layer", rules="tide-rules")
    found = standing(build, other)
    assert (found.ranks, found.partial) == ((), ("there are no reference builds for Tide Rules",))

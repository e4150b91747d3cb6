"""The walk over a build: which pick answers which choice, what is spare, what is missing, how long things hold."""

from dataclasses import replace

from engine.build.document import Build, Line, Origin, Pick, Preparation
from engine.rules.grants.choices import Choice
from engine.sheet.gather import Gathered, Opened, Picked, gather, permits
from engine.sheet.matching import Opening, assign, found_in
from tests.engine.sheet.make import build, catalog, chosen, gift, number, one, pick


def walk(document: Build, *states: str) -> Gathered:
    return gather(document, catalog(), states)


def opened(found: Gathered, keyword: str, place: str = "") -> list[Opened]:
    return [o for o in found.opened if o.choice.keyword == keyword and o.place.startswith(place)]


def test_choices_of_a_first_class_and_of_a_later_one() -> None:
    # SRD 5.1, Rogue, Proficiencies: four skills; Multiclassing, Proficiencies: one
    first = walk(build("rogue 1"))
    assert [(o.count, o.place, o.owner) for o in opened(first, "skill")] == [(4, "/levels/rogue/1", "rogue")]
    later = walk(build("fighter 1, rogue 1"))
    assert [(o.count, o.place) for o in opened(later, "skill")] == [(2, "/levels/fighter/1"), (1, "/levels/rogue/1")]
    assert opened(later, "skill")[1].source == "SRD 5.1, Multiclassing, Multiclassing Proficiencies"


def test_saves_come_with_the_first_class_only() -> None:
    document = build("fighter 1, wizard 1")
    assert [number(document, f"save.{a}").value for a in ("str", "con", "int", "wis")] == [2, 2, 0, 0]


def test_too_many_picks_are_spare_and_give_nothing() -> None:
    document = build("fighter 1", lines={"fighter 1": ["skill acrobatics, athletics, history"]})
    found = walk(document)
    assert [p.pick.id for p in found.spare] == ["history"]
    assert [p.pick.id for p in opened(found, "skill")[0].picks] == ["acrobatics", "athletics"]
    assert number(document, "skill.history").value == 0


def test_a_pick_from_outside_the_list_answers_its_choice_all_the_same() -> None:
    # The audit says that it is wrong; the number follows what is written.
    document = build("fighter 1", lines={"fighter 1": ["skill arcana, athletics"]})
    assert walk(document).spare == ()
    assert number(document, "skill.arcana").value == 2
    choice = opened(walk(document), "skill")[0].choice
    assert not permits(choice, "skill", Pick(id="arcana"), catalog())
    assert permits(choice, "skill", Pick(id="athletics"), catalog())


def test_the_narrower_choice_is_answered_first() -> None:
    # SRD 5.1, Bard: any three skills; College of Lore: any three; so a list would go first, and all six find a place
    document = build(
        "bard 3",
        subclasses={"bard": "college-of-lore"},
        lines={"bard 3": ["skill arcana, history, nature", "expertise arcana, history"]},
    )
    found = walk(document)
    assert found.spare == ()
    assert [len(o.picks) for o in opened(found, "skill", "/levels/bard/3")] == [3]


def test_increases_are_points() -> None:
    # SRD 5.1, Ability Score Improvement: two points; Half-Elf: two scores by one
    document = build(
        "fighter 4",
        species=("half-elf", "+1 dex", "+1 con"),
        lines={"fighter 4": ["+1 str", "+1 dex"], "fighter 3": ["+1 int"]},
    )
    found = walk(document)
    assert [p.pick.id for p in found.spare] == ["int"]
    assert [[(p.pick.id, p.pick.count) for p in o.picks] for o in opened(found, "increase")] == [
        [("dex", 1), ("con", 1)],
        [("str", 1), ("dex", 1)],
    ]


def test_a_feat_takes_the_place_of_an_increase() -> None:
    document = build("fighter 4", lines={"fighter 4": ["feat grappler", "+1 str"]})
    found = walk(document)
    assert [p.pick.id for p in opened(found, "increase")[0].picks] == ["grappler"]
    assert [p.pick.id for p in found.spare] == ["str"]
    assert found.has("grappler", 4)
    assert not found.has("grappler", 3)


def test_columns_open_what_they_add() -> None:
    # SRD 5.1, Warlock: invocations 2 at level 2, 3 at 5; spells known 2, 3, 4, 5, 6
    found = walk(build("warlock 5"))
    assert [(o.level, o.count) for o in opened(found, "invocation")] == [(2, 2), (5, 1)]
    assert [(o.level, o.count) for o in opened(found, "spell")] == [(1, 2), (2, 1), (3, 1), (4, 1), (5, 1)]


def test_a_wizard_puts_spells_in_the_book() -> None:
    # SRD 5.1, Wizard, Spellbook: six, then two a level; copied ones beyond those need no choice
    document = build(
        "wizard 2",
        lines={
            "wizard 1": ["spell shield, sleep, grease, identify, jump, alarm"],
            "wizard 2": ["spell mage-armor, thunderwave", "copied find-familiar", "prepare shield, sleep"],
        },
    )
    found = walk(document)
    assert found.spare == ()
    assert [(o.level, o.count) for o in opened(found, "spell")] == [(1, 6), (2, 2)]
    assert len([s for s in found.spells if s.how == "book"]) == 9
    assert [s.spell for s in found.spells if s.how == "prepared"] == ["shield", "sleep"]


def test_a_prepared_list_holds_until_the_next() -> None:
    document = build(
        "cleric 3", lines={"cleric 1": ["prepare bless, cure-wounds"], "cleric 3": ["prepare bless, guiding-bolt"]}
    )
    spans = [(s.spell, s.since, s.until) for s in walk(document).spells if s.how == "prepared"]
    assert spans == [("bless", 1, 2), ("cure-wounds", 1, 2), ("bless", 3, 20), ("guiding-bolt", 3, 20)]
    last = document.model_copy(update={"prepared": (Preparation(picks=(Pick(id="bane"),)),)})
    assert [s.spell for s in walk(last).spells if s.how == "prepared" and s.until == 20] == ["bane"]


def test_secrets_fill_places_of_the_column() -> None:
    # SRD 5.1, Bard: 12 spells known at level 9, 14 at level 10, of which two are secrets
    found = walk(build("bard 10"))
    assert [o.count for o in opened(found, "spell", "/levels/bard/10")] == []
    assert [o.count for o in opened(found, "secret")] == [2]


def test_a_swap_ends_one_pick_and_begins_another() -> None:
    document = build(
        "bard 3",
        lines={
            "bard 1": ["spell bane, charm-person, heroism, sleep"],
            "bard 2": ["spell bless", "swap spell sleep for faerie-fire"],
            "bard 3": ["swap spell fog-cloud for shatter"],
        },
    )
    found = walk(document)
    spans = {s.spell: (s.since, s.until) for s in found.spells}
    assert spans["sleep"] == (1, 1)
    assert spans["faerie-fire"] == (2, 20)
    new = next(p for p in found.picked if p.pick.id == "faerie-fire")
    assert (new.by_swap, new.swapped_for, new.level) == (True, "sleep", 2)
    gone = next(p for p in opened(found, "spell", "/levels/bard/1")[0].picks if p.pick.id == "sleep")
    assert gone.swapped_out == 2
    assert [p.pick.id for p in found.spare] == ["fog-cloud"]


def test_a_swapped_option_takes_its_grants_with_it() -> None:
    # SRD 5.1, Warlock, Eldritch Invocations: one may be replaced at each level; Agonizing Blast needs the cantrip
    document = build(
        "warlock 3",
        "10 10 10 10 10 16",
        lines={
            "warlock 1": ["cantrip eldritch-blast, chill-touch"],
            "warlock 2": ["invocation agonizing-blast, devils-sight"],
            "warlock 3": ["swap invocation agonizing-blast for eldritch-sight"],
        },
    )
    assert [number(document, "attack.eldritch-blast.damage", n).value for n in (1, 2, 3)] == [5.5, 8.5, 5.5]
    found = walk(document)
    assert found.has("agonizing-blast", 2)
    assert not found.has("agonizing-blast", 3)
    assert found.has("eldritch-sight", 3)


def test_nested_choices_stand_in_parentheses() -> None:
    # SRD 5.1, Ranger, Favored Enemy: a language that the enemy speaks
    document = build(
        "ranger 1", lines={"ranger 1": [chosen("enemy", pick("giants", "language giant")), "terrain swamp"]}
    )
    found = walk(document)
    assert found.spare == ()
    inner = opened(found, "language", "/levels/ranger/1/items/0/picks/0")
    assert [[p.pick.id for p in o.picks] for o in inner] == [["giant"]]


def test_a_class_named_beside_the_keyword() -> None:
    document = build("wizard 1, bard 1", lines={"bard 1": ["cantrip/bard light, mending", "cantrip/wizard fire-bolt"]})
    found = walk(document)
    assert [p.pick.id for p in found.spare] == ["fire-bolt"]


def test_a_background_of_ones_own() -> None:
    # SRD 5.1, Backgrounds, Customizing a Background: two skills, two tools or languages in all, one feature
    document = build(
        "fighter 1",
        background=(
            "Pilot",
            "skill nature, survival",
            "tool navigators-tools",
            "language giant, orc",
            "feature shelter-of-the-faithful",
        ),
    )
    found = walk(document)
    assert [p.pick.id for p in found.spare] == ["orc"]
    assert number(document, "tool.navigators-tools").value == 2
    known = document.model_copy(update={"background": Origin(id="acolyte", items=(one("language giant, orc"),))})
    assert walk(known).spare == ()
    assert number(known, "skill.religion").value == 2


def test_subspecies_have_the_traits_of_both() -> None:
    document = build("fighter 1", species="hill-dwarf")
    assert walk(document).has("dwarf", 1)
    assert walk(document).has("hill-dwarf", 1)
    assert number(document, "ability.con.score").value == 12
    assert number(document, "ability.wis.score").value == 11


def test_a_subclass_taken_late_gives_what_came_before() -> None:
    document = build("rogue 9")
    late = document.model_copy(update={"levels": {"rogue": {9: Line(subclass="thief")}}})
    found = walk(late)
    assert found.has("supreme-sneak", 9)
    assert found.has("second-story-work", 9)
    assert not found.has("second-story-work", 8)


def test_a_subclass_of_another_class_gives_nothing() -> None:
    document = build("rogue 3").model_copy(update={"levels": {"rogue": {3: Line(subclass="champion")}}})
    assert not walk(document).has("improved-critical", 3)


def test_a_second_unarmored_defense_is_not_gained() -> None:
    # SRD 5.1, Multiclassing, Unarmored Defense
    found = walk(build("monk 1, barbarian 1"))
    assert [(r.label, r.level, r.holds) for r in found.refused] == [("Unarmored Defense", 2, "Unarmored Defense")]
    assert "Barbarian" in found.refused[0].source


def test_content_that_no_folio_gives_is_listed_and_gives_nothing() -> None:
    document = build(
        "fighter 2", gear=["moon-lance"], lines={"fighter 1": ["style whirling", "skill tracking, athletics"]}
    )
    document = document.model_copy(
        update={"order": ("fighter", "mirror-dancer", "fighter"), "species": Origin(id="moonfolk")}
    )
    found = walk(document)
    assert {(m.kind, m.id) for m in found.missing} == {
        ("species", "moonfolk"),
        ("class", "mirror-dancer"),
        ("style", "whirling"),
        ("skill", "tracking"),
        ("item", "moon-lance"),
    }
    assert number(document, "hp.max").value == 10 + 6


def test_gear_comes_and_goes() -> None:
    document = build(
        "fighter 4",
        gear=["leather-armor", "shield", "3 javelin"],
        lines={
            "fighter 2": ["lose leather-armor, 2 javelin", "gain chain-mail"],
            "fighter 3": ["lose shield, javelin", gift("harbour oath", "gain plate-armor +1")],
            "fighter 4": ["lose chain-mail", "lose spear"],
        },
    )
    found = walk(document)
    assert [(o.since, o.until) for o in found.outfits] == [(1, 1), (2, 2), (3, 3), (4, 20)]
    assert [number(document, "ac", n).value for n in (1, 2, 3, 4)] == [13, 18, 16, 19]
    assert [(p.keyword, p.pick.id) for p in found.spare] == [("lose", "spear")]
    javelins = [sum(c.count for c in o.carried if c.pick.id == "javelin") for o in found.outfits]
    assert javelins == [3, 1, 0, 0]


def test_a_thing_lost_without_its_bonus_is_found() -> None:
    document = build("fighter 2", gear=["rapier +1"], lines={"fighter 2": ["lose rapier"]})
    assert walk(document).spare == ()
    assert [len(o.carried) for o in walk(document).outfits] == [1, 0]


def test_states_belong_to_the_class_of_what_they_need() -> None:
    # SRD 5.1, Barbarian table: rage damage +3 at barbarian 9, whatever the character level
    document = build("fighter 5, barbarian 8", gear=["greataxe"])
    assert number(document, "attack.greataxe.damage", 13, "rage").value == 6.5 + 2
    found = walk(document, "rage")
    assert {g.owner for g in found.grants if g.state == "rage"} == {"barbarian"}
    assert walk(build("fighter 1"), "rage").idle == ("rage",)
    assert [m.id for m in walk(build("fighter 1"), "moonlit").missing] == ["moonlit"]


def test_always_prepared_spells_come_with_their_level() -> None:
    # SRD 5.1, Cleric, Life Domain: bless and cure wounds at 1, lesser restoration and spiritual weapon at 3
    found = walk(build("cleric 3", subclasses={"cleric": "life-domain"}))
    always = {(s.spell, s.since) for s in found.spells if s.how == "always"}
    assert always == {("bless", 1), ("cure-wounds", 1), ("lesser-restoration", 3), ("spiritual-weapon", 3)}


def test_an_empty_build_opens_nothing() -> None:
    found = walk(Build(name="Nobody"))
    assert found.opened == ()
    assert found.grants == ()


def opening(keyword: str, room: int, *from_: str, owner: str = "pilot", amount: int = 1) -> Opening:
    choice = Choice.model_validate(
        {"kind": "choice", "keyword": keyword, "count": room, "from": from_, "amount": amount, "split": amount > 1}
    )
    return Opening(choice, 1, owner, "Feature", "Source", "/levels/pilot/1", room, room * amount)


def picks(*items: str) -> list[tuple[Picked, str | None]]:
    return found_in([one(i) for i in items], "/levels/pilot/1/items", 1, "pilot")


def test_choices_that_overlap_are_matched_as_a_whole() -> None:
    # arcana could answer either; history only the first, nature only the second
    openings = [opening("skill", 1, "arcana", "history"), opening("skill", 1, "arcana", "nature")]
    for order in ("arcana, history", "history, arcana", "arcana, nature", "nature, arcana"):
        fresh = [replace(o, picks=[]) for o in openings]
        found = assign(fresh, picks(f"skill {order}"), catalog())
        assert None not in found
        assert all(permits(o.choice, "skill", o.picks[0].pick, catalog()) for o in fresh)


def test_a_wrong_pick_takes_what_room_is_left() -> None:
    openings = [opening("skill", 2, "arcana", "history")]
    found = assign(openings, picks("skill stealth, arcana, history"), catalog())
    # both offered ones find their place, the other one is too much
    assert [o is not None for o in found] == [False, True, True]
    openings = [opening("skill", 2, "arcana", "history")]
    found = assign(openings, picks("skill stealth, arcana"), catalog())
    assert [o is not None for o in found] == [True, True]


def test_points_go_to_the_choice_that_they_fill() -> None:
    for order in (("+2 dex", "+1 wis"), ("+1 wis", "+2 dex")):
        openings = [opening("increase", 1, amount=2), opening("increase", 1)]
        assert None not in assign(openings, picks(*order), catalog())
        assert [o.room for o in openings] == [0, 0]

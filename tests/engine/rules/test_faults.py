"""What the models say against an entry, each kind of fault as one sentence for the person who wrote it."""

import pytest

from engine.rules.folio import FolioProblem
from engine.rules.limits import MAX_ENTRIES, MAX_FILES, MAX_PROBLEMS
from engine.rules.loader import read_folio

HEADER = b"id: tide-guild\ntitle: Tide Guild\nversion: '1'\nlicence: ours\nattribution: the guild\n"
ITEM = "id: boathook\nname: Boathook\ncategory: weapon\n"
SPELL = (
    "id: swell\nname: Swell\nlevel: 1\nschool: evocation\ntime: action\nrange: self\nduration: instantaneous\n"
    "components: [v]\nclasses: [wizard]\n"
)
FEAT = "id: sounding\nname: Sounding\n"


def problems(path: str, text: str) -> list[FolioProblem]:
    found = read_folio({"folio.yaml": HEADER, path: text.encode()})
    assert isinstance(found, list), "nothing is wrong"
    return found


@pytest.mark.parametrize(
    ("path", "text", "said"),
    [
        # -- the wrong kind of value
        ("items/a.yaml", ITEM.replace("Boathook", "[Boathook]"), "`name` must be a text; put it in quotes, not a list"),
        (
            "items/a.yaml",
            ITEM.replace("name: Boathook", "name:"),
            "`name` must be a text; put it in quotes, not nothing",
        ),
        ("items/a.yaml", ITEM + "bundle: many\n", "`bundle` must be a whole number, not `many`"),
        ("items/a.yaml", ITEM + "bundle: 2.5\n", "`bundle` must be a whole number, not `2.5`"),
        ("items/a.yaml", ITEM + "bundle: {a: 1}\n", "`bundle` must be a whole number, not a block of keys"),
        ("items/a.yaml", ITEM + "weight: heavy\n", "`weight` must be a number, not `heavy`"),
        ("items/a.yaml", ITEM + "groups: one\n", "`groups` must be a list, such as [first, second], not `one`"),
        ("items/a.yaml", ITEM + "armor: {group: light, ac: 1, metal: maybe}\n", "`armor.metal` must be true or false"),
        ("items/a.yaml", ITEM + "weapon: yes please\n", "`weapon` must be a block of keys with their values"),
        # -- outside of the bounds
        ("items/a.yaml", ITEM + "bundle: 0\n", "`bundle` must be at least 1, not `0`"),
        (
            "feats/a.yaml",
            FEAT + "grants: [{kind: carrying, times: 9}]\n",
            "`grants.0.times` must be at most 8, not `9`",
        ),
        ("items/a.yaml", ITEM + f"speed: {'x' * 41}\n", "`speed` may have 40 characters"),
        ("items/a.yaml", ITEM.replace("name: Boathook", "name: ''"), "`name` is empty"),
        ("feats/a.yaml", FEAT + "grants: [{kind: defense, defense: resistance, to: []}]\n", "needs at least 1"),
        # -- words that are none of those known
        (
            "items/a.yaml",
            ITEM.replace("weapon", "wapon"),
            "`category`: `wapon` is not known here; expected one of weapon,",
        ),
        ("feats/a.yaml", FEAT + "grants: [{feet: 30}]\n", "does not say what it gives; begin it with `kind:`"),
        (
            "feats/a.yaml",
            FEAT + "grants: [{kind: sensing}]\n",
            "`grants.0`: `sensing` is no kind of grant; nearest: sense",
        ),
        # -- not written as it should be
        ("items/a.yaml", ITEM.replace("id: boathook", "id: Boat Hook"), "`Boat Hook` is no id"),
        (
            "items/a.yaml",
            ITEM + "weapon: {group: simple, reach: melee, die: d8}\n",
            "`weapon.die`: `d8` is no dice; write a count and the sides, such as `2d6`",
        ),
        (
            "spells/a.yaml",
            SPELL + "damage: [{dice: eight, type: fire}]\n",
            "is no dice; write `8d6`, `2d8+5` or `1d8+MOD`",
        ),
        # -- rules of the models themselves
        ("feats/a.yaml", FEAT + "grants: [{kind: jump}]\n", "give either feet or times"),
        ("feats/a.yaml", FEAT + "grants: [{kind: jump, feet: 1, times: 2}]\n", "give either feet or times"),
        ("feats/a.yaml", FEAT, "needs `grants`, or `no_number`"),
        ("feats/a.yaml", FEAT + "no_number: x\nrequire: x\n", "nearest known keys: requires"),
        # -- entries that are none
        ("feats/a.yaml", "- harbour\n", "an entry is a block of keys such as `id:` and `name:`, not this"),
        ("harbour.yaml", "id: a\n", "`harbour.yaml` stands in no folder; nearest: "),
        ("feats/a.yaml", "", "the file is empty"),
    ],
)
def test_each_fault_has_its_sentence(path: str, text: str, said: str) -> None:
    found = problems(path, text)
    assert any(said in problem.sentence for problem in found), [str(p) for p in found]
    assert all(problem.file == path for problem in found)


def test_a_folio_is_a_block_of_keys() -> None:
    found = read_folio({"folio.yaml": b"- harbour\n"})
    assert [str(p.sentence) for p in found if isinstance(p, FolioProblem)] == [
        "the folio is a block of keys such as `id:` and `name:`, not this"
    ]


def test_problems_without_end_are_counted() -> None:
    rows = "".join(f"- {{id: Bad {n}, name: A, no_number: x}}\n" for n in range(MAX_PROBLEMS + 7))
    found = problems("feats/a.yaml", rows)
    assert len(found) == MAX_PROBLEMS + 1
    assert found[-1].sentence == "and 7 more problems; mend these first"


def test_entries_and_files_without_end_are_refused() -> None:
    rows = "".join(f"- {{id: a{n}, name: A, no_number: x}}\n" for n in range(MAX_ENTRIES + 3))
    (told,) = problems("feats/a.yaml", rows)
    assert "split this one into two" in told.sentence
    assert told.line == MAX_ENTRIES + 1
    found = read_folio({f"feats/{n}.yaml": b"" for n in range(MAX_FILES + 1)})
    assert isinstance(found, list)
    assert [f"a folio may have {MAX_FILES} files" in problem.sentence for problem in found] == [True]


def test_a_folio_of_one_file_under_any_name() -> None:
    found = read_folio({"tide.yaml": HEADER + b"feats: [{id: sounding, name: Sounding, no_number: x}]\n"})
    assert not isinstance(found, list), [str(p) for p in found]
    assert list(found.entries["feat"]) == ["sounding"]
    same = read_folio({"folio.yaml": HEADER + b"feats: [{id: sounding, name: Sounding, no_number: x}]\n"})
    assert not isinstance(same, list)
    assert same.hash == found.hash

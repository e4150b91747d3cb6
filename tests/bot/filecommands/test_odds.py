"""`buildmoot odds` from the outside: keys, values, exit codes, what is imported."""

import json
import subprocess
import sys
from itertools import product
from math import comb
from pathlib import Path

import pytest

from bot.cli import main


def answered(capsys: pytest.CaptureFixture[str], *words: str) -> dict:
    """Return the one JSON document a question prints, after checking that it went well."""
    assert main(["odds", *words, "--json"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return json.loads(out)


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """Return the sentence of a question that cannot be answered, after checking exit code and empty output."""
    try:
        code = main(["odds", *words])
    except SystemExit as stop:
        code = stop.code
    out, err = capsys.readouterr()
    assert code == 2
    assert out == ""
    assert err.count("\n") == 1
    return err


# Closed form: (21 - (DC - bonus)) / 20, and with advantage 1 - ((n - 1) / 20)^2 for a needed face n.
@pytest.mark.parametrize(
    ("words", "fraction"),
    [
        (("--bonus", "7", "--dc", "15"), "13/20"),
        (("--bonus", "-1", "--dc", "15"), "1/4"),
        (("--bonus=-1", "--dc", "15"), "1/4"),
        (("--bonus", "7", "--dc", "15", "--advantage"), "351/400"),
        (("--bonus", "7", "--dc", "15", "--disadvantage"), "169/400"),
        (("--bonus", "7", "--dc", "15", "--advantage", "--disadvantage"), "13/20"),
        (("--bonus", "9", "--dc", "19", "--lowest", "10"), "1/1"),
        (("--bonus", "9", "--dc", "20", "--lowest", "10"), "1/2"),
        (("--bonus", "30", "--dc", "15"), "1/1"),
        (("--bonus", "-30", "--dc", "15"), "0/1"),
    ],
)
def test_check_gives_the_exact_chance(capsys, words, fraction):
    document = answered(capsys, "check", *words)
    assert document["fraction"] == fraction
    above, below = map(int, fraction.split("/"))
    assert document["success"] == pytest.approx(above / below, abs=1e-12)


def test_check_adds_and_takes_dice(capsys):
    document = answered(capsys, "check", "--bonus", "2", "--dc", "13", "--plus", "1d6", "--minus", "1d8")
    faces = list(product(range(1, 21), range(1, 7), range(1, 9)))
    good = sum(die + plus - minus + 2 >= 13 for die, plus, minus in faces)
    assert document["success"] == pytest.approx(good / len(faces), abs=1e-12)


def test_dice_gives_mean_deviation_and_every_chance(capsys):
    document = answered(capsys, "dice", "4d6 drop lowest")
    totals = [sum(faces) - min(faces) for faces in product(range(1, 7), repeat=4)]
    mean = sum(totals) / len(totals)
    assert document["mean"] == pytest.approx(mean, abs=1e-12)  # 12.2446, a known figure
    assert document["sd"] == pytest.approx((sum((t - mean) ** 2 for t in totals) / len(totals)) ** 0.5, abs=1e-9)
    assert document["pmf"].keys() == {str(total) for total in range(3, 19)}
    for total, chance in document["pmf"].items():
        assert chance == pytest.approx(totals.count(int(total)) / len(totals), abs=1e-12)


def test_dice_may_begin_with_a_minus(capsys):
    assert answered(capsys, "dice", "-1d4+8")["pmf"] == {str(total): 0.25 for total in range(4, 8)}


def test_attack_counts_criticals_as_hits(capsys):
    document = answered(
        capsys, "attack", "--bonus", "5", "--ac", "16", "--damage", "1d8+4", "--critical-from", "19",
        "--once-per-turn", "3d6",
    )  # fmt: skip
    # By hand: 11 to 20 hit (10 of 20), 19 and 20 are critical; 1d8+4 = 8.5, 3d6 = 10.5; a critical doubles dice.
    assert document["hit"] == pytest.approx(0.5)
    assert document["critical"] == pytest.approx(0.1)
    assert document["mean"] == pytest.approx(0.4 * (8.5 + 10.5) + 0.1 * (9 + 4 + 21))
    assert document["pmf"]["0"] == pytest.approx(0.5)
    assert sum(document["pmf"].values()) == pytest.approx(1, abs=1e-12)


def test_attack_takes_a_negative_bonus_and_negative_damage(capsys):
    document = answered(capsys, "attack", "--bonus", "-2", "--ac", "10", "--damage", "-1+1d4", "--attacks", "2")
    assert document["hit"] == pytest.approx(9 / 20)


def test_save_counts_failures_of_many_targets(capsys):
    document = answered(
        capsys, "save", "--dc", "15", "--bonus", "2", "--damage", "2d6", "--half", "--targets", "3"
    )  # fmt: skip
    assert document["fail"] == pytest.approx(0.6)  # 13 or more is needed: 8 of 20 succeed
    halves = [sum(faces) // 2 for faces in product(range(1, 7), repeat=2)]
    mean = 0.6 * 7 + 0.4 * sum(halves) / 36
    assert document["mean"] == pytest.approx(mean)
    assert document["total_mean"] == pytest.approx(3 * mean)
    for number in range(4):
        expected = comb(3, number) * 0.6**number * 0.4 ** (3 - number)
        assert document["failures"][str(number)] == pytest.approx(expected)
    assert sum(document["pmf"].values()) == pytest.approx(1, abs=1e-12)


def test_scores_gives_the_chance_in_any_assignment(capsys):
    document = answered(capsys, "scores", "--needs", "dex 13, wis 13", "--method", "4d6 drop lowest")
    one = sum(sum(f) - min(f) >= 13 for f in product(range(1, 7), repeat=4)) / 6**4
    # At least two of six scores reach 13.
    expected = 1 - (1 - one) ** 6 - 6 * one * (1 - one) ** 5
    assert document["chance"] == pytest.approx(expected, abs=1e-12)


def test_contest_group_fell_concentration_and_death_answer(capsys):
    contest = answered(capsys, "contest", "--bonus", "3", "--other-bonus", "3", "--ties", "nobody")
    assert contest["win"] == pytest.approx(190 / 400)
    group = answered(capsys, "group", "--dc", "11", "--members", "0, 0, 0")
    assert group["success"] == pytest.approx(0.5)  # of three with 1 in 2 each, two or more: 4 of 8
    fell = answered(capsys, "fell", "--dice", "2d6", "--creatures", "rat 2, crab 5")
    assert [one["chance"] for one in fell["falls"]] == pytest.approx([1, 21 / 36])
    held = answered(capsys, "concentration", "--bonus", "4", "--hits", "8, 30")
    assert [hit["still"] for hit in held["hits"]] == pytest.approx([15 / 20, 15 / 20 * 10 / 20])
    death = answered(capsys, "death")
    # 59.5 %: the chain without modifiers, as commonly published; no source in the release.
    assert death["live"] == pytest.approx(0.595, abs=5e-4)


def test_compare_puts_questions_side_by_side(capsys):
    document = answered(
        capsys, "compare", "Plain = check bonus 7 dc 15", "check --bonus 7 --dc 15 --advantage",
        "Bow = check bonus:2 dc:15 advantage:no",
    )  # fmt: skip
    assert [row["label"] for row in document["rows"]] == ["Plain", "check --bonus 7 --dc 15 --advantage", "Bow"]
    assert [row["chance"] for row in document["rows"]] == pytest.approx([0.65, 0.8775, 0.4])
    assert document["best"] == ["check --bonus 7 --dc 15 --advantage"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("check", "--bonus", "x", "--dc", "15"), "invalid int value"),
        (("check", "--bonus", "7"), "The DC is missing"),
        (("check", "--bonus", "7", "--dc", "100000"), "from -1000 to 1000"),
        (("check", "--bonus", "7", "--dc", "15", "--plus", "1x6"), "1x6"),
        (("dice", "4d6 burn lowest"), "burn"),
        (("dice", "5000d6"), "5000 dice"),
        (("dice",), "DICE"),
        (("attack", "--bonus", "7", "--ac", "15"), "damage of a hit is missing"),
        (("attack", "--bonus", "7", "--ac", "15", "--damage", "1d8", "--attacks", "0"), "number of attacks"),
        (("save", "--dc", "15", "--targets", "0"), "number of targets"),
        (("scores",), "minimums are missing"),
        (("scores", "--needs", "luck 13"), "luck"),
        (("group", "--dc", "12", "--members", "five"), "five"),
        (("group", "--dc", "12", "--members", "31 x 2"), "31 members"),
        (("fell", "--dice", "5d8", "--creatures", "goblin"), "goblin"),
        (("fell", "--dice", "5d8", "--creatures", "99 rat 2"), "99 creatures"),
        (("concentration", "--bonus", "3"), "hits are missing"),
        (("compare", "check bonus 7 dc 15"), "2 to 4"),
        (("compare", "check bonus 7 dc 15", "luck 5"), "names no question"),
        (("compare", "check bonus 7 dc 15", "check bonus '7"), "not closed"),
        (("compare", "check bonus 7 dc 15", "check bonus seven dc 15"), "seven"),
        (("luck",), "luck"),
    ],
)
def test_bad_input_is_one_sentence(capsys, words, said):
    assert said in refused(capsys, *words)


def test_text_for_people_begins_with_the_answer(capsys):
    assert main(["odds", "check", "--bonus", "9", "--dc", "20"]) == 0
    first, second, *rest = capsys.readouterr().out.splitlines()
    assert first == "50 % to reach DC 20 (1 in 2)"
    assert second == "  total 1d20 + 9"
    assert any("with advantage 75 % (3 in 4) · with disadvantage 25 % (1 in 4)" in line for line in rest)


@pytest.mark.parametrize(
    "words",
    [
        ("attack", "--bonus", "7", "--ac", "15", "--damage", "1d8+4", "--attacks", "2", "--hit-points", "30"),
        ("save", "--dc", "15", "--bonus", "2", "--damage", "8d6", "--half", "--targets", "3"),
        ("contest", "--bonus", "5"),
        ("group", "--dc", "12", "--members", "5, 2 x 3 with advantage, 0 plus 1d4, 1 lowest 10 reroll ones"),
        ("fell", "--dice", "5d8", "--creatures", "30 crab 2"),
        ("concentration", "--hits", "20 hits of 2d6+3, 0"),
        ("death", "--failures", "1"),
        ("scores", "--needs", "dex 13"),
        ("dice", "2d6+3", "--at-least", "10"),
        ("compare", "check dc 10", "fell dice 5d8 creatures '7, 7'"),
        ("compare", "check dc 10", "check dc 10"),
    ],
)
def test_every_question_has_words(capsys, words):
    assert main(["odds", *words]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) >= 3
    assert not lines[0].startswith(" ")
    assert all(line.strip() for line in lines)


def test_a_check_loads_neither_numpy_nor_the_front_end():
    code = (
        "import sys; from bot.cli import main; "
        "main(['odds', 'check', '--bonus', '7', '--dc', '15', '--advantage', '--json']); "
        "print(sorted({'numpy', 'discord', 'sqlalchemy', 'matplotlib', 'lark', 'pydantic'} & set(sys.modules)), "
        "file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"
    assert json.loads(done.stdout)["fraction"] == "351/400"


WARDEN = str(Path(__file__).parents[2] / "data" / "reed-warden.outline")


# Figures of cards.md for this build at level 8, worked out by hand from the tables of SRD 5.1.
@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("check", "--skill", "Stealth", "--dc", "20"), {"fraction": "1/2"}),
        (("check", "--skill", "skill.stealth", "--dc", "20", "--advantage"), {"fraction": "3/4"}),
        (("check", "--save", "dex", "--dc", "16"), {"fraction": "11/20"}),
        (("check", "--save", "dex", "--dc", "16", "--while", "Bless"), {"fraction": "27/40"}),
        (("check", "--skill", "Stealth", "--creature", "Wolf"), {"fraction": "17/20", "dc": 13}),
        (("attack", "--attack", "Shortbow", "--creature", "Ogre"), {"hit_fraction": "9/10", "hit_points": 59}),
        (("attack", "--attack", "rapier", "--ac", "16"), {"hit_fraction": "11/20", "per_hit": 7.5}),
        (("concentration", "--hits", "22"), {"fraction": "11/20"}),
        (("contest", "--skill", "Athletics", "--creature", "Ogre", "--versus", "str"), {"ties": "nobody"}),
        (("group", "--skill", "Stealth", "--dc", "20", "--members", "9"), {"needed": 1, "fraction": "3/4"}),
        (("scores",), {"count": 6}),
        (("death",), {}),
        # A maximum of 56: on 3 hit points, 59 damage leaves 56 of it, which kills (SRD 5.1, Combat, Instant Death).
        (("death", "--hit", "59", "--hit-points", "3"), {"drops": 1, "outright": 1}),
        (("death", "--hit", "58", "--hit-points", "3"), {"drops": 1, "outright": 0}),
        (("death", "--hit", "58", "--hit-points", "3", "--temporary", "60"), {"drops": 0, "outright": 0}),
        (("fell", "--dice", "5d8"), {}),
    ],
)
def test_a_build_and_a_creature_bring_numbers(capsys, words, expected):
    document = answered(capsys, *words, "--build", WARDEN, "--level", "8")
    assert {name: document[name] for name in expected} == expected
    assert any("Reed Warden, level 8" in line for line in document["counted"])
    assert isinstance(document["left_out"], list)


def test_the_last_level_counts_where_none_is_given(capsys):
    with_level = answered(capsys, "check", "--build", WARDEN, "--level", "8", "--skill", "Stealth", "--dc", "20")
    assert answered(capsys, "check", "--build", WARDEN, "--skill", "Stealth", "--dc", "20") == with_level
    earlier = answered(capsys, "check", "--build", WARDEN, "--level", "1", "--skill", "Stealth", "--dc", "20")
    assert earlier["fraction"] == "2/5"  # Dexterity 16, expertise: 3 + 2 x 2, so 13 or more


def test_a_comparison_takes_builds_too(capsys):
    document = answered(
        capsys,
        "compare",
        f"By day = check build:{WARDEN} level:8 skill:Stealth dc:20",
        f"At night = check build:{WARDEN} level:8 skill:Stealth dc:20 advantage:yes",
    )
    assert [row["chance"] for row in document["rows"]] == pytest.approx([0.5, 0.75])
    assert len(document["counted"]) == 2


def test_text_tells_what_was_counted_and_left_out(capsys):
    words = ("attack", "--build", WARDEN, "--level", "8", "--attack", "Rapier", "--ac", "15")
    assert main(["odds", *words]) == 0
    out = capsys.readouterr().out
    assert "Rapier +6 of Reed Warden, level 8, 2d6 once a turn of Sneak Attack, 1d8 once a turn of Colossus" in out
    assert "Left out: dice that others lend" in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--skill", "Stealth", "--dc", "3"), "say which build"),
        (("--build", "no-such-file", "--skill", "Stealth", "--dc", "3"), "no-such-file:1:1"),
        (("--build", WARDEN, "--level", "9", "--skill", "Stealth", "--dc", "3"), "levels 1 to 8"),
        (("--build", WARDEN, "--level", "8", "--dc", "3"), "Say which number"),
        (("--build", WARDEN, "--level", "8", "--skill", "Stelth", "--dc", "3"), "Nearest: Stealth"),
        (("--build", WARDEN, "--level", "8", "--skill", "Stealth", "--dc", "3", "--while", "tea"), "tea"),
        (("--bonus", "3", "--creature", "Paper Crab"), "Paper Crab"),
    ],
)
def test_sources_that_cannot_be_read_are_one_sentence(capsys, words, said):
    assert said in refused(capsys, "check", *words)


def test_an_empty_build_has_no_numbers(capsys, tmp_path):
    file = tmp_path / "empty.outline"
    file.write_text("Build: Empty Slip\n")
    assert "no levels yet" in refused(capsys, "check", "--build", str(file), "--skill", "Stealth", "--dc", "3")

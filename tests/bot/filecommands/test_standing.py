"""`buildmoot standing` and `buildmoot against` from the outside."""

import json
from pathlib import Path

import pytest

from bot.cli import main

BUILD = str(Path(__file__).parents[2] / "data" / "reed-warden.outline")


def test_standing_prints_the_contract(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["standing", BUILD, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert set(document) == {"levels", "strengths", "weaknesses", "weak_levels"}
    assert len(document["levels"]) == 8
    assert document["levels"][7]["ranks"]["hp.max"]["value"] == 56
    assert len(document["strengths"]) == len(document["weaknesses"]) == 3


def test_standing_in_words_says_its_rule_and_counts_on_request(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["standing", BUILD]) == 0
    brief = capsys.readouterr().out
    assert "Gaps:\n  No healing" in brief
    assert "Partial: Reed Warden ends at level 8" in brief
    assert main(["standing", BUILD, "--details"]) == 0
    assert "Level 8: 10 creatures of challenge 8, armor class 15, 136 hit points" in capsys.readouterr().out
    assert main(["standing", BUILD, "--details", "--json"]) == 0
    assert {"gaps", "typical", "partial"} < set(json.loads(capsys.readouterr().out))


def test_against_prints_averages_and_matches(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["against", BUILD, "--level", "8", "--challenge", "5-8", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert (document["creatures"], document["save_dc"], document["ac"]) == (51, 15, 14)
    assert len(document["best"]) == len(document["worst"]) == 5
    assert main(["against", BUILD, "--name", "Bulette"]) == 0
    out = capsys.readouterr().out
    assert "Level 8 against 1 creature (Bulette)" in out
    assert "It hits them 60 % of the time, with Shortbow +8." in out


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--level", "9"], "there is no level 9"),
        (["--type", "vehicle"], "is no type of creature"),
        (["--challenge", "18"], "No creature of the rules is of challenge 18."),
    ],
)
def test_what_cannot_be_measured_is_bad_input(
    words: list[str], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["against", BUILD, *words, "--json"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert sentence in err


def test_what_is_said_of_an_unfinished_build_is_marked_as_partial(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "half.outline"
    place.write_text("Build: Half Done\nGoal: hp.max >= 30 by 3\n1-3 Rogue\n", encoding="utf-8")
    words = "Partial: the build is not finished and counts as it stands; still to choose: scores, race, background and"
    for command, code in (("goals", 1), ("standing", 0), ("against", 0)):
        assert main([command, str(place)]) == code
        assert words in capsys.readouterr().out
        assert main([command, BUILD]) in (0, 1)
        assert "not finished" not in capsys.readouterr().out
    assert main(["against", str(place), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["partial"].endswith("background and 3 more")
    assert main(["standing", str(place), "--details", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["partial"]) == 2


def test_standing_of_a_whole_build_says_where_it_lags(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    place = tmp_path / "weak.outline"
    lines = "Build: Wet Match\nScores: Str 3, Dex 3, Con 3, Int 3, Wis 3, Cha 3 (manual)\n1-20 Wizard\n"
    place.write_text(lines, encoding="utf-8")
    assert main(["standing", str(place)]) == 0
    assert "Levels at which it lags: 1 to 20" in capsys.readouterr().out


def test_against_says_when_there_is_neither_attack_nor_save(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    place = tmp_path / "bare.outline"
    place.write_text("Build: Bare Hands\n1 Wizard\n", encoding="utf-8")
    assert main(["against", str(place), "--name", "Shrieker"]) == 0
    out = capsys.readouterr().out
    assert "They hit its armor class" not in out
    assert "it attacks nobody" in out
    empty = tmp_path / "empty.outline"
    empty.write_text("Build: Nobody\n", encoding="utf-8")
    assert main(["against", str(empty)]) == 2
    assert "the build has no levels yet" in capsys.readouterr().err


def test_a_build_without_levels_has_no_standing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    place = tmp_path / "keel.outline"
    place.write_text("Build: Keel Layer\n", encoding="utf-8")
    assert main(["standing", str(place), "--json"]) == 2
    out, err = capsys.readouterr()
    assert (out, "has no levels yet" in err) == ("", True)


def test_a_difference_in_words_says_what_becomes_of_goals(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The warden's goal is a passive Perception of 20 at level 8, met by its second point of Wisdom (8 Ranger)."""
    text = (
        Path(BUILD)
        .read_text(encoding="utf-8")
        .replace("\n1 Rogue", "\nGoal: hp.max >= 39 by 8\nGoal: skill.stealth >= 9 by 8\n1 Rogue", 1)
    )
    before, after = tmp_path / "before.outline", tmp_path / "after.outline"
    before.write_text(text, encoding="utf-8")
    changed = text.replace("8 Ranger hp 7: +2 Wis", "8 Ranger hp 7: +2 Dex").replace("Con 13", "Con 15", 1)
    after.write_text(changed.replace("Dex 15", "Dex 13", 1), encoding="utf-8")
    assert main(["diff", str(before), str(after)]) == 1
    out = capsys.readouterr().out
    assert "goal lost: skill.perception.passive >= 20 at 8 (nearest: 19 at level 8, 1 short)" in out
    assert "goal earlier: hp.max >= 39 by 8, from level " in out
    assert "goal later: skill.stealth >= 9 by 8, from level " in out
    assert main(["diff", str(after), str(before)]) == 1
    back = capsys.readouterr().out
    assert "goal met: skill.perception.passive >= 20 at 8" in back
    assert "goal later: hp.max >= 39 by 8" in back
    assert "goal earlier: skill.stealth >= 9 by 8" in back

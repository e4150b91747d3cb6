"""Where file commands read from and where they say that something is wrong: places, standard input, states, levels."""

import io
import json
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bot.cli import main

ROOT = Path(__file__).parents[3]
WARDEN = ROOT / "tests" / "data" / "reed-warden.outline"
TEXT = WARDEN.read_text(encoding="utf-8")
PLACE = re.compile(r"^(?P<file>.+?):(?P<line>\d+):(?P<column>\d+): (?P<sentence>.+)$")
# Commands that read one build, with what they need besides its file.
READING = {
    "sheet": ("--level", "8"),
    "audit": (),
    "goals": (),
    "outline": (),
}
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a command line, with a text on standard input; return exit code and both outputs."""

    def running(*words: str, given: bytes = b"") -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "stdin", type("In", (), {"buffer": io.BytesIO(given)})())
        try:
            code = main(words)
        except SystemExit as left:
            code = int(left.code or 0)
        out, err = capsys.readouterr()
        return code, out, err

    return running


@pytest.mark.parametrize("command", READING)
def test_a_build_comes_from_a_file_or_standard_input(run: Run, command: str) -> None:
    more = READING[command]
    from_file = run(command, str(WARDEN), *more, "--json")
    from_input = run(command, "-", *more, "--json", given=TEXT.encode())
    assert from_file == from_input
    assert from_file[0] == 0
    assert from_file[2] == ""
    assert isinstance(json.loads(from_file[1]), dict)


def test_a_difference_may_take_one_side_from_standard_input(run: Run) -> None:
    other = TEXT.replace("+2 Wis", "+2 Dex").encode()
    code, out, err = run("diff", str(WARDEN), "-", "--json", given=other)
    assert (code, err) == (1, "")
    document = json.loads(out)
    assert set(document) == {"choices", "numbers", "findings"}
    assert set(document["findings"]) == {"new", "gone"}
    assert all(set(row) == {"path", "before", "after"} for row in document["choices"])
    assert all(set(row) == {"name", "level", "before", "after"} for row in document["numbers"])
    # Dexterity 19 instead of 17, Wisdom 16 instead of 18: one step each (SRD 5.1, Ability Scores and Modifiers).
    rows = {(row["name"], row["level"]): (row["before"], row["after"]) for row in document["numbers"]}
    assert rows["ability.dex.modifier", 8] == (3, 4)
    assert rows["save.wis", 8] == (4, 3)
    assert {level for _, level in rows} == {8}
    assert rows["ac", 8] == (14, 15)


@pytest.mark.parametrize("command", [*READING, "diff"])
@pytest.mark.parametrize("given", [False, True])
def test_every_error_of_a_text_is_told_with_its_place(run: Run, tmp_path: Path, command: str, given: bool) -> None:
    """All at once, one a line, in the order of the text; nothing goes to standard output, with `--json` or without."""
    text = TEXT.replace("3 Rogue (Thief)", "3 Rogue (Thieff)").replace("terrain Swamp", "terrain Swampp")
    wanted = [
        (next(n for n, line in enumerate(text.splitlines(), 1) if word in line), word) for word in ("Thieff", "Swampp")
    ]
    file = tmp_path / "wrong.outline"
    file.write_text(text, encoding="utf-8")
    name = "-" if given else str(file)
    more = (name, *READING[command]) if command in READING else (str(WARDEN), name)
    for json_ in ((), ("--json",)):
        code, out, err = run(command, *more, *json_, given=text.encode())
        assert code == 2
        assert out == ""
        found = [PLACE.match(line) for line in err.splitlines()]
        assert all(found)
        places = [(m["file"], int(m["line"])) for m in found if m]
        assert places == [(name, line) for line, _ in wanted]
        for match, (line, word) in zip(found, wanted, strict=True):
            assert match is not None
            assert word in match["sentence"]
            column = text.splitlines()[line - 1].index(word) + 1
            assert int(match["column"]) == column


@pytest.mark.parametrize("level", ["0", "-3", "9", "20", "21", "99999999999"])
def test_a_level_that_the_build_does_not_have(run: Run, level: str) -> None:
    code, out, err = run("sheet", str(WARDEN), f"--level={level}", "--json")
    assert (code, out) == (2, "")
    match = PLACE.match(err)
    assert match is not None
    assert "it has levels 1 to 8" in match["sentence"]


@pytest.mark.parametrize(
    ("command", "words"),
    [
        ("sheet", (str(WARDEN), "--level", "8", "--while", "Rgae")),
        ("sheet", (str(WARDEN), "--all", "--while", "Bless", "--while", "Rgae")),
        ("odds", ("check", "--dc", "15", "--build", str(WARDEN), "--skill", "Stealth", "--while", "Rgae")),
    ],
)
def test_an_unknown_state_is_told_by_the_command_that_was_asked(run: Run, command: str, words: tuple[str, ...]) -> None:
    code, out, err = run(command, *words)
    assert (code, out) == (2, "")
    assert err.startswith(f'buildmoot {command}: No state is called "Rgae". Nearest: ')
    assert "Rage" in err


def numbers(run: Run, *words: str) -> dict[str, Any]:
    """Return name -> value of a sheet at the warden's last level."""
    code, out, err = run("sheet", str(WARDEN), "--level", "8", *words, "--json")
    assert (code, err) == (0, "")
    return {name: number["value"] for name, number in json.loads(out)["numbers"].items()}


def test_states_add_up_and_may_be_repeated(run: Run) -> None:
    """SRD 5.1: Shield of Faith +2; Half Cover +2; Haste +2 and twice the speed; Exhaustion 4: half the hit points."""
    plain = numbers(run)
    assert plain["ac"] == 14
    assert numbers(run, "--while", "shield of faith", "--while", "HASTE")["ac"] == 14 + 2 + 2
    assert numbers(run, "--while", "haste")["speed.walk"] == 2 * plain["speed.walk"] == 60
    assert numbers(run, "--while", "Haste", "--while", "haste")["ac"] == 16
    weary = numbers(run, "--while", "Exhaustion 4")
    assert weary["hp.max"] == plain["hp.max"] // 2 == 28
    assert weary["speed.walk"] == 15
    assert numbers(run, "--while", "restrained")["speed.walk"] == 0
    # Mage armor asks for no armor, and leather is worn: it changes nothing (SRD 5.1, Spell Descriptions, Mage Armor).
    assert numbers(run, "--while", "mage armor")["ac"] == 14


def test_states_hold_at_all_levels(run: Run) -> None:
    code, out, _ = run("sheet", str(WARDEN), "--all", "--while", "Shield of Faith", "--json")
    assert code == 0
    _, plain, _ = run("sheet", str(WARDEN), "--all", "--json")
    pairs = zip(json.loads(out)["levels"], json.loads(plain)["levels"], strict=True)
    assert [a["numbers"]["ac"]["value"] - b["numbers"]["ac"]["value"] for a, b in pairs] == [2] * 8


def test_a_state_that_the_build_cannot_be_in_is_a_note(run: Run) -> None:
    code, out, _ = run("sheet", str(WARDEN), "--level", "8", "--while", "rage", "--json")
    assert code == 0
    notes = [note for note in json.loads(out)["notes"] if note["label"] == "Rage"]
    assert [note["text"] for note in notes] == ["not counted: the build has no rage at this level"]


def test_every_number_of_every_level_has_the_outside_form(run: Run) -> None:
    """Five keys; reasons of a sum add up to it; words stand only where the contract allows them."""
    code, out, _ = run("sheet", str(WARDEN), "--all", "--json")
    assert code == 0
    seen = 0
    for level in json.loads(out)["levels"]:
        assert set(level) == {"level", "numbers", "notes"}
        for name, number in level["numbers"].items():
            assert set(number) == {"value", "unit", "dice", "reasons", "beaten"}, name
            assert isinstance(number["value"], int | float) or name.endswith(".die") or number["value"] == "unlimited"
            assert number["dice"] is None or "d" in number["dice"]
            for reason in (*number["reasons"], *number["beaten"]):
                assert set(reason) == {"label", "amount", "source"}
                assert reason["label"]
                assert reason["source"]
            amounts = [r["amount"] for r in number["reasons"]]
            if all(isinstance(a, int | float) for a in amounts) and not isinstance(number["value"], str):
                assert sum(amounts) == pytest.approx(number["value"]), name
            seen += 1
    assert seen > 8 * 60


def test_outline_text_comes_back_the_same(run: Run) -> None:
    """What is printed reads as the same document, and prints as the same text."""
    _, printed, _ = run("outline", str(WARDEN), "--print")
    _, again, _ = run("outline", "-", "--print", given=printed.encode())
    assert again == printed
    _, document, _ = run("outline", str(WARDEN), "--json")
    _, second, _ = run("outline", "-", "--json", given=printed.encode())
    assert json.loads(second) == json.loads(document)


def test_goals_say_from_which_level(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "goals.outline"
    goals = 'Goal: ac >= 14 by 8\nGoal: ac >= 15 by 8\nGoal: knows Longstrider by 8\nGoal: "be quick"\n'
    lines = [line for line in TEXT.splitlines(keepends=True) if not line.startswith("Goal:")]
    file.write_text("".join([lines[0], goals, *lines[1:]]), encoding="utf-8")
    code, out, err = run("goals", str(file), "--json")
    assert (code, err) == (1, "")
    document = json.loads(out)
    assert set(document) == {"goals"}
    assert all(set(goal) == {"text", "met", "from_level", "margin"} for goal in document["goals"])
    assert [goal["met"] for goal in document["goals"]] == [True, False, True, None]
    # Leather 11 and Dexterity 16 +3 from the first level on; Longstrider is swapped in at level 8.
    assert [goal["from_level"] for goal in document["goals"]] == [1, None, 8, None]


def test_what_cannot_be_read_is_told_with_a_place(run: Run, tmp_path: Path) -> None:
    for command, more in READING.items():
        missing = tmp_path / "not there.outline"
        code, out, err = run(command, str(missing), *more)
        assert (code, out) == (2, "")
        match = PLACE.match(err)
        assert match is not None
        assert match["file"] == str(missing)
        code, out, err = run(command, "-", *more, given=b"")
        assert (code, out) == (2, "")
        assert PLACE.match(err)
        code, out, err = run(command, "-", *more, given=b"Build: X\n1 Rogue\n\xff")
        assert (code, out) == (2, "")
        assert err.startswith("-:3:1: ")

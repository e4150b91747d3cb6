"""`buildmoot writeup` from the outside: output, exit codes, bytes."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from bot.cli import main

DATA = Path(__file__).parents[2] / "data"
BUILD = str(DATA / "reed-warden.outline")
TEXT = str(DATA / "reed-warden.md")


def test_check_prints_the_contract_and_exits_with_one(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["writeup", "check", TEXT, "--build", BUILD, "--json"]) == 1
    document = json.loads(capsys.readouterr().out)
    assert set(document) == {"right", "wrong", "unmarked"}
    assert (document["right"], len(document["wrong"])) == (12, 12)
    assert document["wrong"][0] == {
        "line": 9, "written": "+5", "right": "+4", "name": "skill.insight", "level": 1,
    }  # fmt: skip


def test_the_text_form_gives_the_reasons(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["writeup", "check", TEXT, "--build", BUILD]) == 1
    out = capsys.readouterr().out
    assert "12 of 24 marked numbers are right." in out
    assert "line 9: Insight at level 1: +4, not +5\n  +2 Wisdom 15, +2 proficiency bonus, level 1" in out


def test_fill_then_check_then_strip_keeps_every_byte(tmp_path: Path) -> None:
    # A mark of each kind between bytes that a careless program would change.
    source = b"\xef\xbb\xbf# Reed  Warden\r\n\r\nStealth [?](num:8/skill.stealth)\t\r\nlast line without an end"
    (tmp_path / "text.md").write_bytes(source)
    filled = run("fill", str(tmp_path / "text.md"), "--build", BUILD)
    assert filled.returncode == 0
    assert filled.stdout == source.replace(b"[?]", b"[+9]")
    (tmp_path / "filled.md").write_bytes(filled.stdout)
    assert main(["writeup", "check", str(tmp_path / "filled.md"), "--build", BUILD]) == 0
    bare = run("strip", str(tmp_path / "filled.md"))
    assert bare.stdout == source.replace(b"[?](num:8/skill.stealth)", b"+9")


def run(*words: str) -> "subprocess.CompletedProcess[bytes]":
    command = [sys.executable, "-m", "bot.cli", "writeup", *words]
    return subprocess.run(command, capture_output=True, check=False, cwd=DATA.parents[1])


def test_a_draft_goes_into_a_new_file_and_never_over_an_old_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "draft.md"
    assert main(["writeup", "draft", str(place), "--build", BUILD]) == 0
    assert main(["writeup", "check", str(place), "--build", BUILD]) == 0
    before = place.read_bytes()
    capsys.readouterr()
    assert main(["writeup", "draft", str(place), "--build", BUILD]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "left alone" in err
    assert place.read_bytes() == before


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"caf\xe9 [+9](num:8/skill.stealth)", "line 1 is no UTF-8 text"),
        ("# über\n".encode("utf-16"), "is no UTF-8 text"),
        (b"x" * 2_000_000, "2.0 MB"),
    ],
)
def test_a_text_that_cannot_be_read_is_bad_input(
    data: bytes, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "text.md").write_bytes(data)
    assert main(["writeup", "check", str(tmp_path / "text.md"), "--build", BUILD, "--json"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err


def test_broken_marks_are_told_with_their_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    place = tmp_path / "text.md"
    place.write_text("\n\n  [?](num:9/hp.max) [?](num:8/hp.maxx)\n", encoding="utf-8")
    assert main(["writeup", "fill", str(place), "--build", BUILD]) == 1
    out, err = capsys.readouterr()
    assert out == place.read_text(encoding="utf-8")
    first, second = err.splitlines()
    assert first.startswith(f"{place}:3:3: there is no level 9")
    assert second.startswith(f"{place}:3:21: ")
    assert "nearest: hp.max" in second


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["check", TEXT], "--build FILE is needed"),
        (["draft"], "--build FILE is needed"),
        (["check", "--build", BUILD], "the text is needed, a Markdown file or - for standard input"),
        (["check", "-", "--build", "-"], "only one of the text and the build can come from standard input"),
        (["strip", "no-such-folder/text.md"], "the file cannot be read (No such file or directory)"),
        (["draft", "no-such-folder/text.md", "--build", BUILD], "the file cannot be written (No such file"),
    ],
)
def test_what_is_missing_is_told(words: list[str], sentence: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["writeup", *words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert sentence in err


def test_texts_come_as_a_document_on_request(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["writeup", "draft", "--build", BUILD, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["text"].startswith("# Reed Warden\n")
    assert main(["writeup", "strip", TEXT, "--json"]) == 0
    assert "her Insight +5." in json.loads(capsys.readouterr().out)["text"]
    assert main(["writeup", "fill", TEXT, "--build", BUILD, "--json"]) == 0
    assert "her Insight [+4](num:1/skill.insight)." in json.loads(capsys.readouterr().out)["text"]


def test_numbers_without_a_mark_are_told_in_words_and_break_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "text.md"
    place.write_text("At level 8: +9 to Stealth, [56](num:8/hp.max) hit points.\n", encoding="utf-8")
    assert main(["writeup", "check", str(place), "--build", BUILD]) == 0
    assert capsys.readouterr().out == (
        "1 of 1 marked numbers are right.\n1 numbers bear no mark; if they are the build's, write:\n"
        "line 1: +9 to Stealth: [+9](num:8/skill.stealth)\n"
    )


def test_why_a_mark_cannot_be_read_stands_beside_the_document(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "text.md"
    place.write_text("[5](num:99/ac)\n", encoding="utf-8")
    assert main(["writeup", "check", str(place), "--build", BUILD, "--json"]) == 1
    out, err = capsys.readouterr()
    assert json.loads(out)["wrong"] == [{"line": 1, "written": "5", "right": None, "name": "ac", "level": 99}]
    assert err.startswith(f"{place}:1:1: there is no level 99")
    assert main(["writeup", "check", str(place), "--build", BUILD]) == 1
    out, err = capsys.readouterr()
    assert "line 1: there is no level 99" in out
    assert err == ""

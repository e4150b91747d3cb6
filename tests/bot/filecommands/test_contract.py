"""The outside contract of the file commands: keys, exit codes, and where errors go."""

import io
import json
import sys
from pathlib import Path
from typing import Any

import pytest

from bot.cli import main

ROOT = Path(__file__).parents[3]
WARDEN = str(ROOT / "tests" / "data" / "reed-warden.outline")
SERGEANT = str(ROOT / "bot" / "room" / "seed" / "breakwater-sergeant.outline")
PILOT = str(ROOT / "bot" / "room" / "seed" / "fog-chart-pilot.outline")


class Ran:
    """What a command left behind."""

    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err

    @property
    def json(self) -> Any:
        """The one JSON document on standard output."""
        return json.loads(self.out)


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Any:
    """Run a command line and return what it left behind."""

    def running(*words: str) -> Ran:
        try:
            code = main(words)
        except SystemExit as left:
            code = int(left.code or 0)
        captured = capsys.readouterr()
        if code in (2, 3):
            assert captured.out == ""
            assert captured.err.strip()
        return Ran(code, captured.out, captured.err)

    return running


def test_sheet_at_a_level_and_at_all(run: Any) -> None:
    one = run("sheet", WARDEN, "--level", "8", "--json")
    assert one.code == 0
    assert set(one.json) == {"build", "level", "numbers", "notes"}
    assert set(one.json["build"]) == {"name", "hash", "rules"}
    assert one.json["build"]["rules"] == "srd-5.1"
    assert len(one.json["build"]["hash"]) == 64
    stealth = one.json["numbers"]["skill.stealth"]
    assert set(stealth) == {"value", "unit", "dice", "reasons", "beaten"}
    assert sum(r["amount"] for r in stealth["reasons"]) == stealth["value"] == 9
    assert all(set(r) == {"label", "amount", "source"} for r in stealth["reasons"])
    assert one.json["numbers"]["attack.rapier.damage"]["dice"] == "1d8+3"
    assert all(set(n) == {"label", "text", "source"} for n in one.json["notes"])
    every = run("sheet", WARDEN, "--all", "--json").json
    assert [level["level"] for level in every["levels"]] == list(range(1, 9))
    assert every["levels"][7]["numbers"] == one.json["numbers"]
    text = run("sheet", WARDEN, "--level", "8")
    assert "skill.stealth" in text.out
    assert "Reed Warden, level 8" in run("sheet", WARDEN, "--all").out


def test_states_are_switched_on_by_name(run: Any) -> None:
    plain = run("sheet", WARDEN, "--level", "8", "--json").json["numbers"]["ac"]["value"]
    shielded = run("sheet", WARDEN, "--level", "8", "--json", "--while", "Shield of Faith")
    assert shielded.json["numbers"]["ac"]["value"] == plain + 2  # SRD 5.1, Spell Descriptions, Shield of Faith
    unknown = run("sheet", WARDEN, "--level", "8", "--while", "Shield of Fate")
    assert unknown.code == 2
    assert "Shield of Faith" in unknown.err


def test_the_build_may_come_from_standard_input(run: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    data = Path(WARDEN).read_bytes()
    monkeypatch.setattr(sys, "stdin", type("In", (), {"buffer": io.BytesIO(b"\xef\xbb\xbf" + data)})())
    assert run("sheet", "-", "--level", "1", "--json").json["level"] == 1


def test_audit_says_what_breaks_the_rules(run: Any, tmp_path: Path) -> None:
    fine = run("audit", WARDEN, "--json")
    assert fine.code == 0
    broken = run("audit", SERGEANT, "--json")
    assert broken.code == 1
    (finding,) = [f for f in broken.json["findings"] if f["severity"] == "breaks-rules"]
    assert set(finding) == {"code", "severity", "level", "subject", "message", "source"}
    assert (finding["code"], finding["level"]) == ("multiclass-minimum", 7)
    assert finding["source"].startswith("SRD 5.1, Multiclassing, Prerequisites")
    assert "multiclass-minimum" in run("audit", SERGEANT).out
    codes = run("audit", "--codes", "--json").json["codes"]
    assert {"code", "severity", "meaning"} == set(codes[0])
    assert "array-mismatch" in run("audit", "--codes").out
    table = tmp_path / "rules.yaml"
    table.write_text("multiclassing: no\n", encoding="utf-8")
    barred = run("audit", WARDEN, "--table", str(table), "--json")
    assert barred.code == 1
    assert "breaks-table-rules" in {f["severity"] for f in barred.json["findings"]}
    table.write_text("multiclassin: no\n", encoding="utf-8")
    assert run("audit", WARDEN, "--table", str(table)).code == 2
    assert run("audit").code == 2


def test_diff_has_a_row_for_each_name_and_level(run: Any, tmp_path: Path) -> None:
    same = run("diff", WARDEN, WARDEN, "--json")
    assert same.code == 0
    assert same.json == {"choices": [], "numbers": [], "findings": {"new": [], "gone": []}}
    other = tmp_path / "other.outline"
    text = Path(WARDEN).read_text(encoding="utf-8").replace("hp 7: +2 Wis", "hp 7: +2 Dex")
    other.write_text(text, encoding="utf-8")
    found = run("diff", WARDEN, str(other), "--json")
    assert found.code == 1
    rows = found.json["numbers"]
    assert {"name": "skill.stealth", "level": 8, "before": 9, "after": 10} in rows
    assert rows == sorted(rows, key=lambda r: (r["name"], r["level"]))
    assert found.json["choices"][0]["path"].startswith("/levels/ranger/4")
    assert "skill.stealth: 9 -> 10" in run("diff", WARDEN, str(other)).out


def test_goals_exit_with_1_if_one_is_unmet(run: Any, tmp_path: Path) -> None:
    met = run("goals", WARDEN, "--json")
    assert met.code == 0
    assert set(met.json["goals"][0]) == {"text", "met", "from_level", "margin"}
    assert met.json["goals"][0]["from_level"] == 8
    text = Path(WARDEN).read_text(encoding="utf-8").replace(">= 20 at 8", ">= 30 by 8")
    unmet = tmp_path / "unmet.outline"
    unmet.write_text(text, encoding="utf-8")
    assert run("goals", str(unmet)).code == 1
    assert "not met" in run("goals", str(unmet)).out


def test_outline_is_a_document_or_printed_back(run: Any) -> None:
    document = run("outline", WARDEN, "--json").json
    assert document["schema"] == 1
    assert document["order"] == ["rogue"] * 4 + ["ranger"] * 4
    printed = run("outline", WARDEN, "--print").out
    assert printed.startswith("Build: Reed Warden\n")


@pytest.mark.parametrize(
    "kind",
    ["class", "subclass", "species", "background", "feat", "spell", "item", "creature", "feature", "condition"],
)
def test_facts_of_every_kind(run: Any, kind: str) -> None:
    items = run("facts", kind, "--json").json["items"]
    assert items
    assert all(item["id"] and item["name"] for item in items)
    one = run("facts", kind, items[0]["name"], "--json")
    assert one.json["id"] == items[0]["id"]
    assert items[0]["name"] in run("facts", kind).out
    assert items[0]["name"] in run("facts", kind, items[0]["name"]).out


def test_facts_of_what_is_not_there(run: Any) -> None:
    assert "Fog Cloud" in run("facts", "spell", "Fog Clod").err
    assert "expected one of" in run("facts", "spel").err
    assert run("facts", "spell", "--rules", "srd-9").code == 2


def test_a_folio_is_checked_with_lines(run: Any, tmp_path: Path) -> None:
    folio = tmp_path / "tides"
    (folio / "feats").mkdir(parents=True)
    (folio / "folio.yaml").write_text(
        "id: tides\ntitle: Tides\nversion: '1'\nlicence: MIT\nattribution: Ours.\nextends: srd-5.1\n", encoding="utf-8"
    )
    feat = folio / "feats" / "feats.yaml"
    feat.write_text("- id: tide-sense\n  name: Tide Sense\n  no_number: a feeling\n", encoding="utf-8")
    assert "1 feat" in run("folio", "check", str(folio)).out
    assert run("folio", "check", str(folio), "--json").json["entries"] == {"feat": 1}
    assert run("facts", "feat", "Tide Sense", "--folio", str(folio), "--json").json["id"] == "tide-sense"
    feat.write_text("- id: tide-sense\n  nam: Tide Sense\n", encoding="utf-8")
    broken = run("folio", "check", str(folio))
    assert broken.code == 2
    assert f"{feat}:2:1: " in broken.err
    assert run("folio", "check", str(tmp_path / "none")).code == 2
    assert run("folio", "check").code == 2
    assert "spells" in run("folio", "schema").json["properties"]


FOLIOS = ROOT / "tests" / "data" / "folios"
BELL = str(ROOT / "tests" / "data" / "bell-pilot.outline")
COAST = [
    w for name in ("coast-pilots", "harbour-watch.yaml", "driftborn.yaml") for w in ("--folio", str(FOLIOS / name))
]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("sheet", BELL, "--level", "20"), "19"),
        (("sheet", BELL, "--all", "--json"), "casting.coast-pilot.save_dc"),
        (("sheet", BELL, "--level", "20", "--while", "High Water", "--json"), "High Water"),
        (("audit", BELL), "nothing to report"),
        (("goals", BELL), "met from level 12"),
        (("diff", BELL, BELL, "--json"), '"numbers": []'),
        (("outline", BELL, "--print"), "Folios: Coast Pilots, Harbour Watch, Driftborn"),
        (("facts", "class", "Coast Pilot"), "hit die d8"),
        (("facts", "spell", "coast-pilots/Read the Swell"), "divination"),
        (("odds", "check", "--build", BELL, "--level", "20", "--skill", "Survival", "--dc", "19"), "100"),
        (("odds", "save", "--build", BELL, "--level", "20", "--spell", "Breaking Wave", "--bonus", "5"), "DC 19"),
        (("writeup", "draft", "--build", BELL), "Coast Pilot"),
        (("standing", BELL), "Bell Pilot"),
        (("folio", "check", str(FOLIOS / "coast-pilots")), "1 class"),
    ],
    ids=lambda words: "-".join(words[:1]) if isinstance(words, tuple) else "",
)
def test_every_command_takes_folios(run: Any, words: tuple[str, ...], said: str) -> None:
    """With the folios it knows their content; without them the same build is refused with the missing folio's name."""
    folios = COAST if "folio" not in words[:1] else COAST[2:]
    found = run(*words, *folios)
    assert found.code == 0, found.err
    assert said in found.out
    if BELL in words:
        without = run(*words)
        assert without.code == 2
        assert "coast-pilots" in without.err.lower() or "Coast Pilots" in without.err


def test_templates_check_and_show_their_line(run: Any, tmp_path: Path) -> None:
    mine = tmp_path / "mine.yaml"
    mine.write_text(run("folio", "template").out, encoding="utf-8")
    assert "My Folio (my-folio 1) is in order" in run("folio", "check", str(mine)).out
    mine.write_text(mine.read_text().replace("skills: [perception]", "skills: [percepton]"), encoding="utf-8")
    line = next(i for i, text in enumerate(mine.read_text().splitlines(), start=1) if "percepton" in text)
    broken = run("folio", "check", str(mine))
    assert (broken.code, broken.out) == (2, "")
    assert broken.err.startswith(f"{mine}:{line}:1: ")
    assert "nearest: perception" in broken.err
    assert run("folio", "check", str(mine), "--folio", str(FOLIOS / "driftborn.yaml")).code == 2


def test_two_folios_of_one_id(run: Any) -> None:
    twice = run("facts", "feat", "--folio", str(FOLIOS / "driftborn.yaml"), "--folio", str(FOLIOS / "driftborn.yaml"))
    assert twice.code == 2
    assert "driftborn is given twice" in twice.err


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("8 Rogu\n", ":1:3: ", "nearest: Rogue"),
        ("Build: X\nScores: Str 8\n1 Rogue\n", ":2:", "missing: Dex"),
        ("", ":1:1: ", "empty"),
    ],
)
def test_bad_outlines_leave_with_2_and_a_place(run: Any, tmp_path: Path, text: str, place: str, words: str) -> None:
    file = tmp_path / "bad.outline"
    file.write_text(text, encoding="utf-8")
    for command in (("sheet", "--all"), ("audit",), ("goals",), ("outline",)):
        result = run(command[0], str(file), *command[1:])
        assert result.code == 2
        assert f"{file}{place}" in result.err
        assert words in result.err


def test_other_bad_input(run: Any, tmp_path: Path) -> None:
    assert "there is no level 9" in run("sheet", WARDEN, "--level", "9").err
    assert run("sheet", WARDEN, "--level", "x").code == 2
    assert run("sheet", WARDEN).code == 2
    assert run("sheet", str(tmp_path / "nothing"), "--level", "1").code == 2
    assert run("nonsense").code == 2
    binary = tmp_path / "binary"
    binary.write_bytes(b"Build: X\n\xff\xfe")
    assert f"{binary}:2:1: " in run("audit", str(binary)).err
    large = tmp_path / "large"
    large.write_bytes(b"x" * 2_100_000)
    assert "MB" in run("audit", str(large)).err
    bare = tmp_path / "bare"
    bare.write_text("Build: Bare\n", encoding="utf-8")
    assert "no levels" in run("sheet", str(bare), "--all").err


def test_an_internal_error_leaves_with_3(run: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*args: object) -> None:
        raise RuntimeError("a bug")

    monkeypatch.setattr("bot.filecommands.sheet.sheet", broken)
    result = run("sheet", WARDEN, "--level", "1")
    assert result.code == 3
    assert "internal error" in result.err

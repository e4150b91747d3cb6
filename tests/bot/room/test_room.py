"""The local room: opened, left, opened again; the demo, with other scores; a person's sitting."""

import json
from pathlib import Path

import pytest

from bot.cli import main
from bot.room.demo import play_demo
from bot.room.lines import parse_line
from bot.room.seed import DEMO_OUTLINE, FOLDER
from bot.room.terminal import Session
from bot.room.world import Trouble, World, open_world
from tests.engine.sheet.test_worked_folios import AT_20


class Sitting:
    """A person at the terminal whose lines are prepared."""

    def __init__(self, world: World, *lines: str) -> None:
        self.lines = list(lines)
        self.printed: list[str] = []
        self.session = Session(world, self.ask, self.printed.append, who="tiva")

    async def ask(self, prompt: str) -> str:
        """Type the next line; end the input after the last."""
        if not self.lines:
            raise EOFError
        return self.lines.pop(0)

    @property
    def text(self) -> str:
        """Everything printed so far."""
        return "\n".join(self.printed)


def number(text: str, label: str) -> str:
    """Return the number that a button has on the screen."""
    place = text.rindex(f" {label}]")
    return text[text.rindex("[", 0, place) + 1 : place]


async def test_a_second_start_finds_everything_and_an_old_proposal_can_be_voted_on(tmp_path: Path) -> None:
    place = tmp_path / "room.db"
    async with open_world(place) as world:
        first = {name: actor.id for name, actor in world.members.items()}
        cards = {p.subject: p.message for p in await world.live_places()}
        assert set(cards) == {1, 2, 3, 4, 5}
        stopped = world.env.now()
    async with open_world(place) as world:
        assert {name: actor.id for name, actor in world.members.items()} == first
        assert world.env.now() >= stopped
        again = {p.subject: p.message for p in await world.live_places()}
        assert set(again) == set(cards)
        assert again != cards
        person = Sitting(world)
        await person.session.act(parse_line("@sela /proposal list", world.commands()))
        assert "#4 · Level 9: +2 Str instead of +2 Con" in person.text
        await person.session.act(parse_line("@sela /proposal show proposal:#4", world.commands()))
        await person.session.act(parse_line(f"@sela press {number(person.text, 'For')}", world.commands()))
        assert "For 1 · Against 0 · Abstain 0" in person.text
        assert "2 remarks" in person.text


async def test_a_sitting_with_forms_wrong_words_and_an_end(tmp_path: Path) -> None:
    async with open_world(tmp_path / "room.db") as world:
        form = DEMO_OUTLINE.read_text(encoding="utf-8")
        header, _, levels = form.partition("\n1 ")
        person = Sitting(
            world,
            "help",
            "who",
            "page",
            "@nobody /build list",
            "/build lost",
            "hello all",
            "press 99",
            "/build show build:#99",
            "/build show build:#1 level:x",
            "/build load file:nowhere.txt",
            "/build load",
            *header.splitlines(),
            "",
            *("1 " + levels).splitlines(),
            "",
            "",
            "",
            "@tiva /build list author:oskar",
            "quit",
        )
        await person.session.run()
        text = person.text
        assert "Nobody here is called nobody" in text
        assert "There is no command" in text
        assert "the bot reads no messages" in text
        assert "There is no button 99" in text
        assert "is no number" in text
        assert "cannot be read" in text
        assert "Reed Warden · #6" in text
        assert "@maren" in text


async def test_the_demo_shows_what_the_sheet_command_says(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Run with two scores swapped, the printed numbers must change to what `buildmoot sheet` says."""
    own = DEMO_OUTLINE.read_text(encoding="utf-8")
    swapped = own.replace("Str 8, Dex 15", "Str 15, Dex 8")
    assert swapped != own
    for n, outline in enumerate((own, swapped)):
        file = tmp_path / f"{n}.outline"
        file.write_text(outline, encoding="utf-8")
        assert main(["sheet", str(file), "--level", "8", "--json"]) == 0
        numbers = json.loads(capsys.readouterr().out)["numbers"]
        printed: list[str] = []
        async with open_world(tmp_path / f"{n}.db") as world:
            await play_demo(world, printed.append, file)
        text = "\n".join(printed)
        before = text[: text.index("/propose change")]
        line = f"Hit points {numbers['hp.max']['value']} · Armor class {numbers['ac']['value']}"
        assert line in before
        assert f"Stealth {numbers['skill.stealth']['value']:+d} at level 8" in before
        assert "adopted as revision 2" in text


async def test_the_demo_stops_with_a_sentence_if_a_step_is_refused(tmp_path: Path) -> None:
    broken = tmp_path / "x.outline"
    broken.write_text("Build: Nobody\n1 Rogu\n", encoding="utf-8")
    async with open_world(tmp_path / "room.db") as world:
        with pytest.raises(Trouble):
            await play_demo(world, lambda line: None, broken)


def test_the_rooms_builds_are_what_they_claim(capsys: pytest.CaptureFixture[str]) -> None:
    """One has three classes and twenty levels; one breaks a rule, at exactly one level."""
    broken: dict[str, set[int]] = {}
    folios = [word for folio in sorted((FOLDER / "folios").iterdir()) for word in ("--folio", str(folio))]
    for file in sorted(FOLDER.glob("*.outline")):
        main(["audit", str(file), "--json", *folios])
        findings = json.loads(capsys.readouterr().out)["findings"]
        broken[file.stem] = {f["level"] for f in findings if f["severity"] == "breaks-rules"}
    assert broken == {
        "bell-pilot": set(),
        "breakwater-sergeant": {7},
        "fog-chart-pilot": set(),
        "lighthouse-archivist": set(),
        "reed-warden": set(),
    }


async def test_the_bell_pilot_lives_on_the_folios_of_the_room(tmp_path: Path) -> None:
    """Its numbers at level 20 are those that are worked out by hand in tests/engine/sheet/test_worked_folios.py."""
    async with open_world(tmp_path / "room.db") as world:
        person = Sitting(world)
        await person.session.act(parse_line("@oskar /content list", world.commands()))
        for title in ("Coast Pilots", "Harbour Watch", "Driftborn"):
            assert title in person.text
        await person.session.act(parse_line("@oskar /build show build:#5 level:20", world.commands()))
        assert "Bell Pilot of the Mole · #5 · level 20" in person.text
        assert f"Hit points {AT_20['hp.max']} · Armor class {AT_20['ac']}" in person.text
        await person.session.act(parse_line("@oskar /build why build:#5 level:20 number:Survival", world.commands()))
        assert f"Lowest total {AT_20['skill.survival.lowest']}" in person.text
        await person.session.act(parse_line("@oskar /build audit build:#5", world.commands()))
        assert "audit" in person.text
        assert "missing" not in person.text.lower()

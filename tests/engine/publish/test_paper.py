"""Documents on paper: the text of the PDF, read back with pypdf, says what the sheet says."""

import io
import re
from collections.abc import Sequence

import pytest
from PIL import Image
from pypdf import PdfReader

from engine.build.document import Build
from engine.build.outline import parse_outline
from engine.publish.paper import PAPERS, Paper, plan_data, plan_pdf, sheet_data, sheet_pdf, sheet_picture
from engine.publish.references import outlines
from engine.publish.words import ability, shown
from engine.rules.catalog import Catalog
from engine.rules.words import ABILITIES
from engine.sheet import Sheet, timeline

# Points of 1/72 inch. ISO 216; ANSI/ASME Y14.1.
SIZES = {"a4": (595, 842), "us-letter": (612, 792)}


def text_of(pdf: bytes) -> str:
    return re.sub(r"[ \t]+", " ", "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages))


def compare(text: str, sheet: Sheet, catalog: Catalog) -> None:
    """Every number that the sheet of paper shows stands beside its name, and is the sheet's."""
    numbers = sheet.numbers
    for each in ABILITIES:
        score, modifier, save = (
            shown(name, numbers[name].value)
            for name in (f"ability.{each}.score", f"ability.{each}.modifier", f"save.{each}")
        )
        assert re.search(rf"{ability(each)}\s+{re.escape(modifier)}\s+score {score}\s+save {re.escape(save)}", text), (
            each
        )
    for name, words in (
        ("ac", "Armor class"),
        ("initiative", "Initiative"),
        ("proficiency_bonus", "Proficiency bonus"),
        ("skill.perception.passive", "Passive Perception"),
        ("hp.max", "hit points"),
    ):
        assert re.search(rf"(?m)^{re.escape(shown(name, numbers[name].value))}\s+{words}", text), name
    for skill in catalog.release.skills:
        value = shown("skill.x", numbers[f"skill.{skill.id}"].value)
        assert re.search(rf"{skill.name} {skill.ability.capitalize()} {re.escape(value)}(?!\d)", text), skill.name
    for name, number in numbers.items():
        parts = name.split(".")
        if name.endswith(".to_hit") and len(parts) == 3:
            damage = numbers.get(f"attack.{parts[1]}.damage")
            dice = (damage.dice or shown("", damage.value)) if damage else ""
            assert f"{shown(name, number.value)} {dice}" in text, name
        elif name.endswith(".save_dc"):
            assert f"save DC {number.value}" in text, name
        elif parts[0] == "slots" and number.value:
            assert re.search(rf"\b{parts[1]}(st|nd|rd|th) level \({number.value}\)", text), name
        elif parts[0] == "hit_dice":
            assert f"{number.value}{parts[1]}" in text, name
        elif parts[0] == "senses":
            assert f"{parts[1]} {number.value} feet" in text, name
        elif parts[0] == "pool" and parts[-1] == "uses" and isinstance(number.value, int) and number.value:
            assert re.search(rf"\b{number.value}\b", text), name
    assert f"{shown('speed.walk', numbers['speed.walk'].value)} feet" in text
    assert f"{shown('', numbers['carry.weight'].value)} OF {shown('', numbers['carry.capacity'].value)} POUNDS" in text


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("level", [1, 8])
def test_the_printed_numbers_are_those_of_the_sheet(
    paper: Paper, level: int, warden: Build, release: Catalog, sheets: Sequence[Sheet]
) -> None:
    pdf = sheet_pdf(warden, release, level, paper)
    page = PdfReader(io.BytesIO(pdf)).pages[0]
    assert (round(page.mediabox.width), round(page.mediabox.height)) == SIZES[paper]
    text = text_of(pdf)
    assert text.startswith("Reed Warden")
    compare(text, sheets[level - 1], release)
    assert "Creative Commons Attribution 4.0" in re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("place", range(12))
def test_the_sheets_of_all_classes_at_level_20_say_their_numbers(place: int, release: Catalog) -> None:
    build = parse_outline(outlines()[place], release)
    assert isinstance(build, Build)
    pdf = sheet_pdf(build, release, 20)
    compare(text_of(pdf), timeline(build, release)[19], release)
    assert len(PdfReader(io.BytesIO(pdf)).pages) <= 2


def test_states_are_named_and_counted(release: Catalog) -> None:
    build = parse_outline(outlines()[0], release)
    assert isinstance(build, Build)
    data = sheet_data(build, release, 5, ("rage",))
    assert data["states"] == ["Rage"]
    assert data["notes"] != sheet_data(build, release, 5)["notes"]


def test_what_is_due_next_is_the_plan_or_what_is_open(warden: Build, release: Catalog) -> None:
    assert sheet_data(warden, release, 7)["next"] == ["Ranger hp 7: +2 Wis; swap Fog Cloud for Longstrider"]
    # SRD 5.1, Classes, Ranger: at ranger level 5 a third... fourth spell is known.
    assert sheet_data(warden, release, 8)["next"] == ["Spellcasting: 1 spell to choose"]


def test_a_level_that_is_not_there_is_an_error_of_the_caller(warden: Build, release: Catalog) -> None:
    for level in (0, 9):
        with pytest.raises(ValueError, match="levels 1 to 8"):
            sheet_data(warden, release, level)
    with pytest.raises(ValueError, match="no levels yet"):
        plan_data(Build(name="Keel Layer"), release)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("place", [0, 1, 11])
def test_twenty_levels_stand_on_two_pages(place: int, paper: Paper, release: Catalog) -> None:
    build = parse_outline(outlines()[place], release)
    assert isinstance(build, Build)
    pages = PdfReader(io.BytesIO(plan_pdf(build, release, paper))).pages
    assert len(pages) == 2
    text = re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))
    name = release.name_of("class", build.order[0])
    for sheet in timeline(build, release):
        hp = sheet.numbers["hp.max"].value
        assert re.search(rf"\b{sheet.level} {name} {sheet.level} .*\b{hp} {sheet.numbers['ac'].value} ", text), (
            sheet.level
        )


def test_a_plan_with_much_on_every_level_still_takes_two_pages(release: Catalog) -> None:
    notes = "; ".join(["note the tide table of the outer bar, and who keeps the lamp when the pilot is away"] * 6)
    lines = "\n".join(f"{level} Bard: {notes}" for level in range(1, 21))
    build = parse_outline(f"Build: Long Story\nConcept: {'x' * 200}\n{lines}\nGoal: hp.max >= 90 at 20\n", release)
    assert isinstance(build, Build), build
    reader = PdfReader(io.BytesIO(plan_pdf(build, release)))
    assert len(reader.pages) == 2
    assert "hp.max >= 90 at 20" in reader.pages[1].extract_text()


def test_names_are_printed_letter_by_letter(release: Catalog) -> None:
    build = Build(name="#let *x* = $1$ \\ [a](b) <c>", order=("bard",), notes=('"quoted" #panic()',))
    text = text_of(sheet_pdf(build, release, 1))
    assert text.startswith(build.name)
    assert '"quoted" #panic()' in text


def test_the_picture_is_the_first_page_black_on_white(warden: Build, release: Catalog) -> None:
    made = sheet_picture(warden, release, 8)
    picture = Image.open(io.BytesIO(made.picture)).convert("RGB")
    assert picture.width / picture.height == pytest.approx(210 / 297, abs=0.01)
    assert picture.width >= 900
    colours = picture.getcolors(maxcolors=1_000_000)
    assert colours is not None
    # Readable in black and white: nothing is told by colour.
    assert all(max(colour) - min(colour) <= 2 for _, colour in colours)
    assert sum(count for count, colour in colours if colour == (255, 255, 255)) > 0.7 * picture.width * picture.height


def test_papers_of_an_unfinished_build_are_marked_as_partial(warden: Build, release: Catalog) -> None:
    half = parse_outline("Build: Half Done\nSpecies: Human\n1-3 Rogue\n", release)
    assert isinstance(half, Build)
    words = "Partial. The build is not finished and counts as it stands; still to choose: scores, background,"
    for made in (sheet_pdf(half, release, 3), plan_pdf(half, release)):
        assert words in " ".join(text_of(made).split())
    for made in (sheet_pdf(warden, release, 8), plan_pdf(warden, release)):
        assert "Partial" not in text_of(made)


def test_goals_and_pact_slots_stand_on_the_plan(release: Catalog) -> None:
    """Two slots of the pact at level 2 (SRD 5.1, Classes, Warlock table)."""
    outline = (
        'Build: Deep Pact\nGoal: hp.max >= 5 at 1\nGoal: hp.max >= 99 at 2\nGoal: "never lost at sea"\n'
        "1-2 Warlock\n3 Wizard\n"
    )
    build = parse_outline(outline, release)
    assert isinstance(build, Build), build
    data = plan_data(build, release)
    assert [row["slots"] for row in data["rows"][:3]] == ["pact 1", "pact 2", "2 + pact 2"]
    met, missed, judged = (goal["state"] for goal in data["goals"])
    assert met == "met from level 1"
    assert missed.startswith("not met: ")
    assert judged == "for people to judge"

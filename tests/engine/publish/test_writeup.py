"""Write-ups: which marks there are, which are right, what is proposed, and that nothing else is touched.

That a mark is a plain CommonMark link, and that a text without its marks renders the same, is checked against
markdown-it-py's own renderer.
"""

import re
from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from engine.audit import goals
from engine.build.document import Build
from engine.build.outline import parse_outline
from engine.problem import Refused
from engine.publish.writeup import LONGEST, check, decoded, draft, fill, scan, strip
from engine.rules.catalog import Catalog
from engine.sheet import Sheet, timeline
from tests.engine.publish.conftest import DATA

WRITEUP = (DATA / "reed-warden.md").read_text(encoding="utf-8")
# (line, written, right, name, level): the twelve mistakes planted in reed-warden.md, worked out by hand from the
# tables of SRD 5.1 for the build of the outline page.
PLANTED = [
    (9, "+5", "+4", "skill.insight", 1),
    (16, "+6", "+5", "skill.survival", 4),
    (19, "16", "17", "skill.perception.passive", 4),
    (26, "+4", "+3", "save.wis", 5),
    (27, "4", "3", "skill.nature", 5),
    (32, "+7", "+8", "attack.shortbow.to_hit", 8),
    (32, "1d6+4", "1d6+3", "attack.shortbow.damage", 8),
    (33, "8.5", "7.5", "attack.rapier.damage", 8),
    (34, "2", "3", "slots.1", 8),
    (34, "16", "15", "casting.ranger.save_dc", 8),
    (35, "+1", "-1", "save.str", 8),
    (35, "120 feet", "60", "senses.darkvision", 8),
]


def test_twelve_planted_mistakes_are_found_and_twelve_right_numbers_left_alone(warden: Build, release: Catalog) -> None:
    found = check(WRITEUP, warden, release)
    assert [(w.line, w.written, w.right, w.name, w.level) for w in found.wrong] == PLANTED
    assert found.right == 12
    assert all(wrong.reasons for wrong in found.wrong)


def test_the_outside_form_has_the_keys_of_the_contract(warden: Build, release: Catalog) -> None:
    found = check(WRITEUP + "\nShe has +9 to Stealth.\n", warden, release).as_json()
    assert set(found) == {"right", "wrong", "unmarked"}
    assert all(set(row) == {"line", "written", "right", "name", "level"} for row in found["wrong"])
    assert found["unmarked"] == [
        {"line": 37, "text": "+9 to Stealth", "proposal": "[+9](num:8/skill.stealth)"},
    ]


def test_filling_puts_exactly_the_wrong_numbers_right(warden: Build, release: Catalog) -> None:
    filled = fill(WRITEUP, warden, release)
    assert filled.changed == 12
    assert check(filled.text, warden, release).wrong == ()
    before, after = WRITEUP.splitlines(), filled.text.splitlines()
    assert [n for n, (a, b) in enumerate(zip(before, after, strict=True), 1) if a != b] == sorted(
        {line for line, *_ in PLANTED}
    )
    assert "[60 feet](num:8/senses.darkvision)" in filled.text
    assert fill(filled.text, warden, release).text == filled.text


def test_a_question_mark_becomes_the_number_as_people_write_it(warden: Build, release: Catalog) -> None:
    text = "[?](num:8/skill.stealth) +[?](num:8/skill.stealth) [?](num:8/hp.max) [**?**](num:8/save.str) [](num:8/ac)"
    assert strip(fill(text, warden, release).text) == "+9 +9 56 **-1** 14"


@pytest.mark.parametrize(
    ("mark", "right"),
    [
        ("[9](num:8/skill.stealth)", True),
        ("[\\+9](num:8/skill.stealth)", True),
        ("[−1](num:8/save.str)", True),  # U+2212
        ("[7,5](num:8/attack.rapier.damage)", True),
        ("[1D8 + 3](num:8/attack.rapier.damage)", True),
        ("[d8+3](num:8/attack.rapier.damage)", True),
        ("[1st](num:8/casting.ranger.top_level)", True),
        ("[-9](num:8/skill.stealth)", False),
        ("[nine](num:8/skill.stealth)", False),
        ("[9 or 10](num:8/skill.stealth)", False),
        ("[2d8+3](num:8/attack.rapier.damage)", False),
        ("[](num:8/ac)", False),
    ],
)
def test_a_number_is_right_if_it_is_worth_the_same(mark: str, right: bool, warden: Build, release: Catalog) -> None:
    found = check(mark, warden, release)
    assert (found.right, len(found.wrong)) == ((1, 0) if right else (0, 1))


@pytest.mark.parametrize(
    ("mark", "words"),
    [
        ("[1](num:9/hp.max)", "levels 1 to 8"),
        ("[1](num:0/hp.max)", "no level 0"),
        ("[1](num:8/skill.steath)", "nearest: skill.stealth"),
        ("[1](num:1/casting.ranger.save_dc)", "from level 6 on"),
        ("[1](num:hp.max)", "names no level and number"),
        ("[1](num:)", "names no level and number"),
        ("[1](NUM:8/)", "names no level and number"),
        ("[1](<num:8/hit points>)", "names look like"),
        ("[1][n]\n\n[n]: num:8/ac", "written as one piece"),
        ("<num:8/ac>", "written as one piece"),
    ],
)
def test_a_broken_mark_is_told_in_a_plain_sentence_and_left_alone(
    mark: str, words: str, warden: Build, release: Catalog
) -> None:
    (wrong,) = check(f"Two lines.\nHere: {mark}", warden, release).wrong
    assert wrong.right is None
    assert words in wrong.sentence
    assert (wrong.line, wrong.column) == (2, 7)
    assert fill(mark, warden, release).text == mark


def test_a_build_that_ends_early_gives_what_it_can(release: Catalog) -> None:
    empty = Build(name="Keel Layer")
    (wrong,) = check("[9](num:1/hp.max) and +3 to Stealth", empty, release).wrong
    assert "no levels yet" in wrong.sentence
    assert "no levels yet" in draft(empty, release, (), ())


def test_what_is_no_mark_is_no_mark() -> None:
    text = """    [1](num:1/ac)

```
[2](num:1/ac)
```
`[3](num:1/ac)` \\[4](num:1/ac) <b title="[5](num:1/ac)">x</b> ![6](num:1/ac) [7](other:1/ac) <!-- [8](num:1/ac) -->
"""
    assert scan(text).marks == ()
    assert strip(text) == text


# -- unmarked numbers -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "found", "proposal"),
    [
        ("She has +7 to Stealth.", "+7 to Stealth", "[+7](num:8/skill.stealth)"),
        ("Stealth: **+9**", "Stealth: **+9", "[+9](num:8/skill.stealth)"),
        ("At level 4 her Stealth is +7.", "Stealth is +7", "[+7](num:4/skill.stealth)"),
        ("Her spells are DC 15.", "DC 15", "[15](num:8/casting.ranger.save_dc)"),
        ("about 120 hit points", "120 hit points", "[120](num:8/hp.max)"),
        ("56 HP and AC 14", "56 HP", "[56](num:8/hp.max)"),
        ("Armor class of 15", "Armor class of 15", "[15](num:8/ac)"),
        ("a passive Perception of about 20", "passive Perception of about 20", "[20](num:8/skill.perception.passive)"),
        ("+6 on Dexterity saving throws", "+6 on Dexterity saving throws", "[+6](num:8/save.dex)"),
        ("initiative +3", "initiative +3", "[+3](num:8/initiative)"),
        ("+8 to hit with the shortbow", "+8 to hit", "[+8](num:8/attack.shortbow.to_hit)"),
        ("Rapier 1d8+3", "Rapier 1d8+3", "[1d8+3](num:8/attack.rapier.damage)"),
        ("60 feet of darkvision", "60 feet of darkvision", "[60](num:8/senses.darkvision)"),
        ("3 1st-level spell slots", "3 1st-level spell slots", "[3](num:8/slots.1)"),
        ("Dex 17", "Dex 17", "[17](num:8/ability.dex.score)"),
    ],
)
def test_a_number_next_to_its_name_is_proposed_as_a_mark(
    text: str, found: str, proposal: str, warden: Build, release: Catalog, sheets: Sequence[Sheet]
) -> None:
    first = check(text, warden, release, sheets).unmarked[0]
    assert (first.text, first.proposal) == (found, proposal)


@pytest.mark.parametrize(
    "text",
    [
        "`+7 to Stealth`",
        "[+9](num:8/skill.stealth) to Stealth",
        "+2 Wis at level 8, 20 arrows, page 120",
        "In 1402 the guild charted 30 islands; 1d20 for the tide.",
    ],
)
def test_what_looks_like_no_number_of_the_build_is_left_alone(text: str, warden: Build, release: Catalog) -> None:
    assert check(text, warden, release).unmarked == ()


def test_headings_say_which_level_a_number_is_of(warden: Build, release: Catalog) -> None:
    text = "## Level 4\n\nStealth +7\n\n### Spells\n\nStealth +7\n\n## Afterword\n\nStealth +9\n"
    found = check(text, warden, release).unmarked
    assert [(u.line, u.proposal.partition("num:")[2]) for u in found] == [
        (3, "4/skill.stealth)"),
        (7, "4/skill.stealth)"),
        (11, "8/skill.stealth)"),
    ]


# -- drafts -----------------------------------------------------------------------------------------------------------


def test_a_draft_names_every_level_and_all_its_marks_are_right(
    warden: Build, release: Catalog, sheets: Sequence[Sheet]
) -> None:
    text = draft(warden, release, sheets, goals(warden, release))
    assert re.findall(r"^## Level (\d+)", text, re.M) == [str(n) for n in range(1, 9)]
    assert "Goal met: skill.perception.passive \\>= 20 at 8." in text
    assert "[+7](num:4/skill.stealth) → [+9](num:5/skill.stealth)" in text
    found = check(text, warden, release, sheets)
    assert found.right > 100
    assert (found.wrong, found.unmarked) == ((), ())
    # Every digit outside a mark belongs to a heading, a choice, a goal or a name.
    rest = re.sub(r"\[[^\]]*\]\(num:[^)]*\)", "", text)
    left = [line for line in rest.splitlines() if re.search(r"\d", line)]
    assert all(re.match(r"## Level|Choices:|Goal met:|Rules:|- 1st-level slots", line) for line in left), left


@given(st.text(min_size=1, max_size=50).filter(str.strip), st.text(max_size=80))
@settings(max_examples=60, deadline=None)
def test_names_in_a_draft_are_shown_letter_by_letter(name: str, concept: str) -> None:
    try:
        build = Build(name=name, concept=concept)
    except ValueError:
        return
    release = _release()
    text = draft(build, release, (), ())
    html = MarkdownIt("commonmark").render(text)
    assert scan(text).marks == ()
    assert re.sub(r"\s+", " ", _unescaped(html)).count("<h1>") == 1
    assert " ".join(build.name.split()) in re.sub(r"\s+", " ", _unescaped(html))


def _unescaped(html: str) -> str:
    for entity, char in (("&lt;", "<"), ("&gt;", ">"), ("&quot;", '"'), ("&amp;", "&")):
        html = html.replace(entity, char)
    return html


def _release() -> Catalog:
    from engine.services.library import catalog

    return catalog()


# -- bytes ------------------------------------------------------------------------------------------------------------

AROUND = st.text(alphabet=st.sampled_from("ab .,;:'\"-#>_é\t∞"), max_size=12)
NUMBERS = st.sampled_from(["+7", "-1", "15", "?", "7.5", "1d8+3", "**+9**", "DC 14", "unlimited"])
TARGETS = st.sampled_from(["8/skill.stealth", "8/hp.max", "4/save.str", "8/attack.rapier.damage", "9/ac", "nonsense"])
MARKS = st.tuples(NUMBERS, TARGETS)
ENDS = st.sampled_from(["\n", "\r\n", "\n\n", "\r\n\r\n"])
STARTS = st.sampled_from(["", "", "> ", "- ", "1. ", "## ", "  ", "> - ", "| "])


@st.composite
def pieces(draw: st.DrawFn) -> list[str | tuple[str, str]]:
    """A text as a list: pieces of prose, and marks as (text, target).

    Between words and marks stands a blank, since `a**9**` is no emphasis where `a[**9**](...)` holds one.
    """
    found: list[str | tuple[str, str]] = [draw(st.sampled_from(["", "\ufeff"]))]
    for _ in range(draw(st.integers(1, 5))):
        around = draw(AROUND)
        found += [draw(STARTS), f"{around} " if around else ""]
        for _ in range(draw(st.integers(0, 3))):
            found += [draw(MARKS), f" {draw(AROUND)} "]
        found.append(draw(ENDS))
    return found


def joined(parts: list[str | tuple[str, str]]) -> str:
    return "".join(p if isinstance(p, str) else f"[{p[0]}](num:{p[1]})" for p in parts)


@given(pieces())
@settings(max_examples=300, deadline=None)
def test_marks_are_found_where_the_parser_sees_links(parts: list[str | tuple[str, str]]) -> None:
    text = joined(parts)
    marks = scan(text).marks
    html = MarkdownIt("commonmark").render(text.removeprefix("\ufeff"))
    assert len(marks) == html.count('<a href="num:')
    for mark in marks:
        assert text[mark.start : mark.end] == f"[{mark.text}](num:{mark.target})"
        assert text[mark.text_start : mark.text_end] == mark.text
        assert mark.line == 1 + len(re.findall(r"\r\n?|\n", text[: mark.start]))


@given(pieces())
@settings(max_examples=300, deadline=None)
def test_stripping_takes_off_the_marks_and_nothing_else(parts: list[str | tuple[str, str]]) -> None:
    text = joined(parts)
    bare = strip(text)
    md = MarkdownIt("commonmark")
    linked = md.render(text.removeprefix("\ufeff"))
    assert re.sub(r'<a href="num:[^"]*">(.*?)</a>', r"\1", linked) == md.render(bare.removeprefix("\ufeff"))
    assert strip(bare) == bare
    if html_marks(linked) == sum(isinstance(part, tuple) for part in parts):  # none of them stands in code
        outside = "".join(part if isinstance(part, str) else part[0] for part in parts)
        # At most a backslash a mark is added, where a number would begin a list.
        assert bare.replace("\\", "") == outside
    assert bare.count("\\") <= len(scan(text).marks)


def html_marks(html: str) -> int:
    return html.count('<a href="num:')


@given(pieces())
@settings(max_examples=200, deadline=None)
def test_filling_changes_nothing_outside_the_brackets(parts: list[str | tuple[str, str]]) -> None:
    text = joined(parts)
    release = _release()
    build, made = _warden(release)
    filled = fill(text, build, release, made)
    hole = re.compile(r"\[[^\]]*\](?=\(num:)")
    assert hole.sub("[]", filled.text) == hole.sub("[]", text)
    again = check(filled.text, build, release, made)
    assert all(wrong.right is None for wrong in again.wrong)
    assert fill(filled.text, build, release, made).changed == 0


_KEPT: list[tuple[Build, tuple[Sheet, ...]]] = []


def _warden(release: Catalog) -> tuple[Build, tuple[Sheet, ...]]:
    if not _KEPT:
        from engine.build.outline import parse_outline

        build = parse_outline((DATA / "reed-warden.outline").read_text(encoding="utf-8"), release)
        assert isinstance(build, Build)
        _KEPT.append((build, timeline(build, release)))
    return _KEPT[0]


def test_a_number_that_would_begin_a_list_is_kept_a_number() -> None:
    assert strip("[7](num:8/ac). And so on.") == "7\\. And so on."
    assert strip("> [12](num:8/ac)) x") == "> 12\\) x"
    assert strip("[- 4](num:8/ac) x") == "\\- 4 x"
    assert strip("Her armor class: [7](num:8/ac). And so on.") == "Her armor class: 7. And so on."


@given(st.binary(max_size=60))
@settings(max_examples=200, deadline=None)
def test_bytes_come_back_as_they_were_or_are_refused_in_words(data: bytes) -> None:
    text = decoded(data)
    if isinstance(text, Refused):
        assert text.code == "not-text"
        assert "UTF-8" in text.sentence
    else:
        assert text.encode() == data


def test_a_text_that_is_too_long_is_refused_with_its_size() -> None:
    refused = decoded(b"x" * (2 * LONGEST))
    assert isinstance(refused, Refused)
    assert refused.code == "text-too-long"
    assert "2.0 MB" in refused.sentence


def test_a_thousand_numbers_are_no_trouble(warden: Build, release: Catalog) -> None:
    found = check("[+9](num:8/skill.stealth) and [+8](num:8/skill.stealth)\n" * 500, warden, release)
    assert (found.right, len(found.wrong)) == (500, 500)
    assert [w.line for w in found.wrong] == list(range(1, 501))


# A barbarian and a rogue with numbers that are dice or have no limit (SRD 5.1, Classes, Barbarian table, Rage;
# Combat, Unarmed Strikes; Classes, Bard, Bardic Inspiration).
RAGER = "Build: Storm Anchor\nScores: Str 15, Dex 14, Con 13, Int 8, Wis 12, Cha 10 (standard array)\n1-20 Barbarian\n"
SINGER = "Build: Fog Singer\nScores: Str 8, Dex 14, Con 13, Int 10, Wis 12, Cha 15 (standard array)\n1-10 Bard\n"


def parsed(text: str, release: Catalog) -> Build:
    build = parse_outline(text, release)
    assert isinstance(build, Build), build
    return build


def test_numbers_that_are_words_or_dice_are_read_and_written(release: Catalog) -> None:
    rager, singer = parsed(RAGER, release), parsed(SINGER, release)
    good = check(
        "[unlimited](num:20/pool.rage.uses) [∞](num:20/pool.rage.uses) [6](num:19/pool.rage.uses)", rager, release
    )
    assert (good.right, good.wrong) == (3, ())
    wrong = "[6](num:20/pool.rage.uses)"
    assert fill(wrong, rager, release).text == "[unlimited](num:20/pool.rage.uses)"
    dice = "[d10](num:10/pool.bardic-inspiration.die) [1d8](num:10/pool.bardic-inspiration.die)"
    assert (check(dice, singer, release).right, len(check(dice, singer, release).wrong)) == (1, 1)
    assert "[1d10](num:10/pool.bardic-inspiration.die) [1d10]" in fill(dice, singer, release).text.replace(
        "[d10]", "[1d10]"
    )


def test_an_ordinal_stays_one_when_it_is_put_right(release: Catalog) -> None:
    singer = parsed(SINGER, release)
    # SRD 5.1, Classes, Bard table: highest slots at level 10 are of the 5th level, at 5 of the 3rd, at 3 of the 2nd.
    marks = " ".join(f"[9th](num:{level}/casting.bard.top_level)" for level in (10, 5, 3, 1))
    assert strip(fill(marks, singer, release).text) == "5th 3rd 2nd 1st"


def test_uses_of_a_pool_are_found_without_a_mark(release: Catalog) -> None:
    rager = parsed(RAGER, release)
    found = check("At level 1 she has 2 uses of Rage. Later on 3 uses of rage at level 3.", rager, release).unmarked
    assert [each.proposal for each in found] == ["[2](num:1/pool.rage.uses)", "[3](num:3/pool.rage.uses)"]


def test_a_draft_of_an_unfinished_build_says_so_and_tells_goals_that_are_missed(release: Catalog) -> None:
    build = parsed("Build: Half Done\nGoal: hp.max >= 99 by 3\nGoal: knows Fog Cloud by 2\n1-3 Rogue\n", release)
    text = draft(build, release, timeline(build, release), goals(build, release), ["No skill_s are chosen."])
    assert "This frame is partial; the build is not finished:\n\n- No skill\\_s are chosen." in text
    assert "## Goals not met\n\n- hp.max \\>= 99 by 3: " in text
    assert "- knows Fog Cloud by 2" in text
    assert check(text, build, release).wrong == ()


def test_a_number_that_went_away_is_told(release: Catalog) -> None:
    """A weapon that is given away takes its numbers along."""
    build = parsed("Build: Light Load\nGear: Dagger\n1 Rogue\n2 Rogue: lose Dagger\n", release)
    (wrong,) = check("[+2](num:2/attack.dagger.to_hit)", build, release).wrong
    assert wrong.sentence == "`attack.dagger.to_hit` no longer exists at level 2"

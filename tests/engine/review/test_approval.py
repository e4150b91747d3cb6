"""The rules of an approval by themselves: what may follow what, what a pin keeps, what counts as open."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.audit.finding import Finding
from engine.build.document import Build
from engine.build.outline import parse_outline
from engine.problem import Refused
from engine.review import approval
from engine.review.approval import Pin, Stage, Stand, Submission
from engine.rules.catalog import Catalog
from engine.sheet import Sheet, timeline
from engine.sheet.number import Number
from engine.store.folio_files import load_shipped

T0 = datetime(2026, 3, 1, 12, tzinfo=UTC)
BROKEN = Finding("table-barred", "breaks-table-rules", 3, "Thief", "This table has barred Thief.", "rules of the table")
RULING = Finding("scores-manual", "needs-ruling", None, "scores", "Nothing can check them.", "SRD 5.1")
ADVICE = Finding("duplicate-proficiency", "advice", 9, "Stealth", "Twice.", "SRD 5.1")


def pin(revision: int = 1, last: int = 4, findings: tuple[Finding, ...] = ()) -> Pin:
    """Return a pin of levels 1 to last."""
    return Pin(revision=revision, first=1, last=last, seen={}, findings=findings, member=7, at=T0)


def sheets(*levels: dict[str, int | str]) -> tuple[Sheet, ...]:
    """Return sheets of bare values."""
    return tuple(
        Sheet(level, {name: Number(value, "points", ()) for name, value in numbers.items()}, ())
        for level, numbers in enumerate(levels, start=1)
    )


def test_numbers_seen_are_kept_as_the_levels_from_which_they_differ() -> None:
    seen = approval.numbers_seen(sheets({"ac": 14, "hp.max": 9}, {"ac": 14, "hp.max": 15}, {"hp.max": 21}), 1, 3)
    assert seen == {"ac": [[1, 14], [3, None]], "hp.max": [[1, 9], [2, 15], [3, 21]]}
    assert approval.numbers_seen(sheets({"ac": 14}, {"ac": 15}), 2, 2) == {"ac": [[2, 15]]}


@given(
    st.lists(
        st.dictionaries(st.sampled_from(["ac", "hp.max", "initiative"]), st.integers(0, 3) | st.just("1d8")),
        min_size=1,
        max_size=20,
    ),
    st.data(),
)
def test_what_was_seen_differs_from_sheets_exactly_where_they_do(
    levels: list[dict[str, int | str]], data: st.DataObject
) -> None:
    """Against the plain comparison of every level, for the same sheets and for others."""
    before = sheets(*levels)
    seen = approval.numbers_seen(before, 1, len(levels))
    kept = replace(pin(last=len(levels)), seen=seen)
    assert approval.corrected(kept, before) == ()
    at = data.draw(st.integers(0, len(levels) - 1))
    changed = [dict(level) for level in levels]
    changed[at]["ac"] = 99
    rows = {(row.name, row.level, row.before, row.after) for row in approval.corrected(kept, sheets(*changed))}
    assert rows == {("ac", at + 1, levels[at].get("ac"), 99)}


def test_a_pin_of_a_real_build_holds_all_its_numbers() -> None:
    """Every value of every level is read back from the runs, and they are a fraction of the whole."""
    catalog = Catalog([load_shipped("srd-5.1")])
    text = (Path(__file__).parents[2] / "data" / "reed-warden.outline").read_text(encoding="utf-8")
    build = parse_outline(text, catalog)
    assert isinstance(build, Build)
    all_levels = timeline(build, catalog)
    seen = approval.numbers_seen(all_levels, 1, 8)
    assert approval.corrected(replace(pin(last=8), seen=seen), all_levels) == ()
    assert sum(map(len, seen.values())) < sum(len(sheet.numbers) for sheet in all_levels) / 2


def test_a_token_stands_for_revision_level_numbers_and_findings() -> None:
    token = approval.token("aa", 4, {"ac": [[1, 14]]}, [BROKEN])
    assert token == approval.token("aa", 4, {"ac": [[1, 14]]}, [BROKEN])
    others = {
        approval.token("ab", 4, {"ac": [[1, 14]]}, [BROKEN]),
        approval.token("aa", 5, {"ac": [[1, 14]]}, [BROKEN]),
        approval.token("aa", 4, {"ac": [[1, 15]]}, [BROKEN]),
        approval.token("aa", 4, {"ac": [[1, 14]]}, []),
        approval.token("aa", 4, {"ac": [[1, 14]]}, [replace(BROKEN, message="Other words.")]),
    }
    assert len(others | {token}) == 6
    assert all(len(each) == 12 for each in others)


def test_what_is_still_open() -> None:
    findings = (BROKEN, RULING, ADVICE)
    assert approval.still_open(findings, [], None) == (BROKEN, RULING)
    assert approval.still_open(findings, [approval.finding_key(BROKEN)], None) == (RULING,)
    # An approval rules on what only needed a ruling; what breaks a rule stays open until it is waived.
    assert approval.still_open(findings, [], pin(findings=findings)) == (BROKEN,)
    other = replace(RULING, message="Something else.")
    assert approval.still_open((other,), [], pin(findings=findings)) == (other,)
    assert approval.relevant(findings, 4) == (BROKEN, RULING)


def code(result: Submission | Refused) -> str:
    """Return the code of a refusal, empty for none."""
    return result.code if isinstance(result, Refused) else ""


WAITING = Submission(stage=Stage.WAITING, revision=1, at=T0)
APPROVED = replace(WAITING, stage=Stage.APPROVED, pin=pin())
RETURNED = replace(WAITING, stage=Stage.RETURNED, remarks="No.")
WITHDRAWN = replace(WAITING, stage=Stage.WITHDRAWN)


@pytest.mark.parametrize(
    ("before", "submit", "approve", "send_back", "withdraw"),
    [
        (WAITING, "already-waiting", "", "", ""),
        (APPROVED, "already-approved", "already-approved", "", ""),
        (RETURNED, "", "", "already-returned", ""),
        (WITHDRAWN, "", "withdrawn", "withdrawn", "withdrawn"),
    ],
)
def test_what_may_follow_what(before: Submission, submit: str, approve: str, send_back: str, withdraw: str) -> None:
    """Every stage with every act, at the same revision."""
    assert code(approval.submit(before, revision=1, level=4, at=T0)) == submit
    assert code(approval.approve(before, pin(), ())) == approve
    assert code(approval.send_back(before, member=7, at=T0, remarks="No.")) == send_back
    assert code(approval.withdraw(before)) == withdraw


def test_how_an_approval_stands_later() -> None:
    assert approval.stand(APPROVED, 1, 4) is Stand.APPROVED
    assert approval.stand(APPROVED, 2, 4) is Stand.CHANGED
    assert approval.stand(APPROVED, 1, 5) is Stand.CHANGED
    assert approval.stand(APPROVED, 1, 3) is Stand.APPROVED
    assert code(approval.approve(APPROVED, pin(last=5), ())) == ""
    assert code(approval.submit(APPROVED, revision=2, level=4, at=T0)) == ""
    assert code(approval.approve(WAITING, pin(), [BROKEN])) == "findings-open"
    assert code(approval.approve(WAITING, pin(), [RULING, ADVICE])) == ""


@settings(max_examples=200)
@given(st.lists(st.tuples(st.sampled_from(["submit", "approve", "return", "withdraw", "edit"]), st.integers(1, 6))))
def test_no_course_of_things_approves_what_no_gm_saw(steps: list[tuple[str, int]]) -> None:
    """Whatever happens in which order: approved means that the last approval is of this revision and level."""
    state: Submission | None = None
    revision, seen = 1, None
    for hour, (act, level) in enumerate(steps):
        at = T0 + timedelta(hours=hour)
        result: Submission | Refused | None = None
        if act == "edit":
            revision += 1
        elif act == "submit":
            result = approval.submit(state, revision=revision, level=level, at=at)
        elif state is not None and act == "approve":
            result = approval.approve(state, replace(pin(revision, level), at=at), ())
            seen = (revision, level) if isinstance(result, Submission) else seen
        elif state is not None and act == "return":
            result = approval.send_back(state, member=7, at=at, remarks="No.")
        elif state is not None:
            result = approval.withdraw(state)
        state = result if isinstance(result, Submission) else state
        if state is not None and approval.stand(state, revision, level) is Stand.APPROVED:
            assert seen is not None
            assert seen[0] == revision
            assert seen[1] >= level

"""No folio makes reading it cost without end, sound or not: the work is counted in lines of the engine that run.

A look for the nearest names is dear and runs in a library, so those are counted too: none is made that nobody is told.
"""

import json
from collections.abc import Sequence
from typing import Any, Final

import pytest

from engine.rules import faults, formula, loader, names, references
from engine.rules.folio import Folio, FolioProblem
from engine.rules.limits import MAX_ALL_GRANTS, MAX_COUNTED, MAX_ENTRY, MAX_OPENED, MAX_PROBLEMS
from engine.rules.loader import read_folio
from engine.store.folio_files import load_shipped
from tests.engine.counting import lines_run

HEADER: Final = {
    "id": "dear", "title": "Dear", "version": "1", "licence": "MIT", "attribution": "our own", "extends": "srd-5.1",
}  # fmt: skip
Content = dict[str, Any]
# The worst below ran about a third of this when the limits were set; before them it was a hundred times as many.
MOST: Final = 6_000_000


def feats(count: int, grants: list[Content]) -> Content:
    return {"feats": [{"id": f"f{i}", "name": "F", "grants": grants} for i in range(count)]}


def option(i: int, *opened: str) -> Content:
    choices = [{"kind": "choice", "keyword": keyword, "count": 1} for keyword in opened]
    return {"id": f"o{i}", "name": "O", "grants": choices or [{"kind": "armor-bonus", "amount": 1}]}


def ladder(lists: int, options: int, *last: str) -> Content:
    """Return lists whose every option opens the next list; last: what those of the last list open."""
    rungs = [f"rung-{'abcdefghij'[n]}" for n in range(lists)]
    return {
        "choices": [
            {
                "id": rung, "name": "L", "keyword": rung,
                "options": [
                    option(i, *rungs[n + 1 : n + 2], *(last if n == lists - 1 else ())) for i in range(options)
                ],
            }
            for n, rung in enumerate(rungs)
        ]
    }  # fmt: skip


CASES: Final[dict[str, tuple[Content, str | None]]] = {
    "ids that nobody gives": (
        feats(20, [{"kind": "expertise", "ids": [f"x{n}" for n in range(100)]}] * 10),
        "no folio at hand gives the skill or tool `x0`",
    ),
    "spells that nobody gives": ({"lists": {"wizard": [f"x{n}" for n in range(20_000)]}}, "gives the spell `x0`"),
    "nothing to put aside": ({"bars": [f"x{n}" for n in range(1000)]}, "there is nothing to put aside"),
    "keys that nobody knows": (
        feats(100, [{"kind": "expertise", "ids": ["stealth"], "lable": "x", "wen": 1}] * 50),
        "nearest known keys: label",
    ),
    "kinds that nobody knows": (feats(100, [{"kind": "expertize"}] * 50), "is no kind of grant"),
    "formulas that cannot be read": (
        feats(
            100,
            [{"kind": "armor-bonus", "amount": f"wiz{'abcdefghij'[n % 10]}{'abcde'[n // 10]}"} for n in range(50)],
        ),
        "is no word of formulas",
    ),
    "options that open options": (ladder(10, 140), None),
    "options in one large circle": (ladder(10, 140, "rung-a"), "can be answered with `o0` again"),
    "more ways than can be looked at": (
        {
            "choices": [
                {
                    "id": f"l{m}", "name": "L", "keyword": "knot",
                    "options": [
                        {
                            "id": f"o{m}-{i}", "name": "O",
                            "grants": [{"kind": "choice", "keyword": "knot", "count": 1, "but": [f"o{m}-{i}"]}],
                        }
                        for i in range(140)
                    ],
                }
                for m in range(5)
            ]
        },
        f"in more than {MAX_OPENED:,} ways",
    ),
}  # fmt: skip


def read(content: Content) -> Folio | list[FolioProblem]:
    text = json.dumps({**HEADER, **content}).encode()
    return read_folio({"folio.yaml": text}, lambda _: (load_shipped("srd-5.1"),))


@pytest.mark.parametrize("case", CASES)
def test_reading_is_bounded(case: str, monkeypatch: pytest.MonkeyPatch) -> None:
    content, said = CASES[case]
    looks = 0
    plain = names.nearest

    def counted(name: str, among: Sequence[str], limit: int = 3) -> list[str]:
        nonlocal looks
        looks += 1
        return plain(name, among, limit)

    for module in (faults, loader, references):
        monkeypatch.setattr(module, "nearest", counted)
    load_shipped("srd-5.1")
    found, lines = lines_run(lambda: read(content), MOST)
    assert lines > 10_000
    # One look for each problem told, and one for the first that is only counted.
    assert looks <= MAX_PROBLEMS + 1
    if said is None:
        assert isinstance(found, Folio), found
    else:
        assert isinstance(found, list)
        assert any(said in problem.sentence for problem in found), found[:3]
        assert len(found) <= MAX_PROBLEMS + 1


def test_what_is_too_wrong_is_not_read_to_its_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """After a thousand more problems than are told, no further entry is looked at."""
    parsed = 0
    plain = formula.Formula.parse

    def counted(source: Any) -> Any:
        nonlocal parsed
        parsed += 1
        return plain(source)

    monkeypatch.setattr(formula.Formula, "parse", counted)
    found = read(feats(1000, [{"kind": "armor-bonus", "amount": "wiz"}] * 10))
    assert isinstance(found, list)
    assert found[-1].sentence == f"and more than {MAX_COUNTED} more problems; mend these first"
    assert MAX_PROBLEMS + MAX_COUNTED <= parsed <= MAX_PROBLEMS + MAX_COUNTED + 20


def test_grants_without_end_are_refused() -> None:
    each = 50
    found = read(feats(MAX_ALL_GRANTS // each + 20, [{"kind": "armor-bonus", "amount": 1}] * each))
    assert isinstance(found, list)
    (problem,) = found
    assert f"a folio may have {MAX_ALL_GRANTS:,} grants in all" in problem.sentence
    assert isinstance(read(feats(MAX_ALL_GRANTS // each, [{"kind": "armor-bonus", "amount": 1}] * each)), Folio)


def test_one_entry_may_not_be_the_whole_file() -> None:
    found = read(feats(1, [{"kind": "armor-bonus", "amount": 1}] * (MAX_ENTRY // 3)))
    assert isinstance(found, list)
    (problem,) = found
    assert f"one may have {MAX_ENTRY:,}" in problem.sentence

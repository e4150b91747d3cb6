"""`buildmoot odds`: any question, from plain numbers or from a build and a creature."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING, Any

from bot.filecommands.odds_arguments import asked_of, read_line
from engine.odds.asked import Asked, question_of
from engine.odds.compare import Compare, Item, answer_compare
from engine.odds.compare import as_json as compare_json
from engine.odds.questions import Question, as_json, ask
from engine.odds.told import Told, told
from engine.problem import Refused

if TYPE_CHECKING:
    from typing import NoReturn

    from bot.filecommands.reading import Shelf
    from engine.odds.sources import Figures, Filled
    from engine.rules.catalog import Catalog


def run(args: argparse.Namespace) -> int:
    """Print the answer. Exit 0; what cannot be answered is a Stop."""
    if args.question == "compare":
        asked = [_line(line, args) for line in args.asked]
        found = [_question(one, args) for one in asked]
        labels = [one.label or line.strip()[:40] for one, line in zip(asked, args.asked, strict=True)]
        items = tuple(Item(label=label, question=question) for label, (question, _) in zip(labels, found, strict=True))
        answer = answer_compare(Compare(items=items))
        if isinstance(answer, Refused):
            _stop(args, answer)
        _print(args, compare_json(answer), told(answer), [source for _, source in found])
        return 0
    question, source = _question(asked_of(args), args)
    one = ask(question)
    if isinstance(one, Refused):
        _stop(args, one)
    _print(args, as_json(one), told(one), [source])
    return 0


def _line(line: str, args: argparse.Namespace) -> Asked:
    asked = read_line(line)
    if isinstance(asked, Refused):
        _stop(args, asked)
    return asked


def _question(asked: Asked, args: argparse.Namespace) -> tuple[Question, Filled | None]:
    """Return the complete question, and what a build or creature brought to it; content is read only for those."""
    if not asked.builds and asked.creature is None and asked.use is None:
        question = question_of(asked.kind, asked.fields)
        if isinstance(question, Refused):
            _stop(args, question)
        return question, None
    from bot.filecommands.reading import Shelf, Stop
    from engine.odds.sources import filled

    shelf = Shelf(args.folio)
    figures: list[Figures] = []
    catalog: Catalog | None = None
    for file in asked.builds:
        one, catalog = _figures(file, asked, shelf)
        figures.append(one)
    if catalog is None:
        shipped = shelf.catalog()
        if isinstance(shipped, Refused):
            raise Stop(f"buildmoot odds {args.question}: {shipped.sentence}")
        catalog = shipped
    found = filled(asked, figures, catalog)
    if isinstance(found, Refused):
        _stop(args, found)
    return found.question, found


def _figures(file: str, asked: Asked, shelf: Shelf) -> tuple[Figures, Catalog]:
    from bot.filecommands.reading import Stop, read_build
    from bot.filecommands.sheet import check_level, known_states
    from engine.odds.sources import Figures

    build, catalog = read_build(file, shelf)
    if build.top == 0:
        raise Stop(f"{file}:1:1: the build has no levels yet; add a line such as `1 Rogue`")
    level = build.top if asked.level is None else asked.level
    check_level(file, build, level)
    return Figures(build, catalog, level, known_states(asked.states, catalog, "odds")), catalog


def _stop(args: argparse.Namespace, refused: Refused) -> NoReturn:
    from bot.filecommands.reading import Stop

    raise Stop(f"buildmoot odds {args.question}: {refused.sentence}")


def _print(args: argparse.Namespace, document: dict[str, Any], words: Told, sources: list[Filled | None]) -> None:
    brought = [source for source in sources if source is not None]
    counted = [line for source in brought for line in source.told]
    left = [line for source in brought for line in source.left_out]
    if args.json:
        if brought:
            document = {**document, "counted": counted, "left_out": left}
        # The printing module knows sheets; a question without a build must not load them.
        print(json.dumps(document, ensure_ascii=False, indent=1))
        return
    print(words.answer)
    for line in (words.counted, *counted, *words.lines, words.table):
        if line:
            print(f"  {line}")
    if words.left_out:
        print(f"  Left out: {', '.join([words.left_out, *left])}")

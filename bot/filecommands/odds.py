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


def run(args: argparse.Namespace) -> int:
    """Print the answer. Exit 0; what cannot be answered is a Stop."""
    if args.question == "compare":
        answer = answer_compare(Compare(items=tuple(_item(line, args) for line in args.asked)))
        if isinstance(answer, Refused):
            _stop(args, answer)
        _print(args, compare_json(answer), told(answer))
        return 0
    question = _question(asked_of(args), args)
    one = ask(question)
    if isinstance(one, Refused):
        _stop(args, one)
    _print(args, as_json(one), told(one))
    return 0


def _item(line: str, args: argparse.Namespace) -> Item:
    asked = read_line(line)
    if isinstance(asked, Refused):
        _stop(args, asked)
    return Item(label=asked.label or line.strip()[:40], question=_question(asked, args))


def _question(asked: Asked, args: argparse.Namespace) -> Question:
    question = question_of(asked.kind, asked.fields)
    if isinstance(question, Refused):
        _stop(args, question)
    return question


def _stop(args: argparse.Namespace, refused: Refused) -> NoReturn:
    from bot.filecommands.reading import Stop

    raise Stop(f"buildmoot odds {args.question}: {refused.sentence}")


def _print(args: argparse.Namespace, document: dict[str, Any], words: Told) -> None:
    if args.json:
        # The printing module knows sheets; a question without a build must not load them.
        print(json.dumps(document, ensure_ascii=False, indent=1))
        return
    print(words.answer)
    print(f"  {words.counted}")
    for line in (*words.lines, words.table):
        if line:
            print(f"  {line}")
    if words.left_out:
        print(f"  Left out: {words.left_out}")

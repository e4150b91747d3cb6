"""`buildmoot writeup`: the frame of a write-up, its numbers checked, put right, or freed of their marks."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from bot.filecommands.printing import amount, print_json
from bot.filecommands.reading import Shelf, Stop, read_build
from engine.problem import Refused
from engine.publish.writeup import Checked, Wrong, check, decoded, draft, fill, strip
from engine.publish.writeup.reading import LONGEST

if TYPE_CHECKING:
    from engine.build.document import Build
    from engine.rules.catalog import Catalog


def run(args: argparse.Namespace) -> int:
    """Run one of the four actions.

    Exit 1 if `check` finds anything wrong, or `fill` leaves a mark that it cannot read; beside what a program reads,
    those are told on standard error with their place. Bad input is a Stop.
    """
    if args.action == "strip":
        return _strip(args)
    if args.build is None:
        raise Stop(f"buildmoot writeup {args.action}: --build FILE is needed, the outline that the numbers come from")
    if args.build == "-" and args.text == "-":
        raise Stop("buildmoot writeup: only one of the text and the build can come from standard input")
    if args.action == "draft":
        return _draft(args)
    text = _text(args)
    build, catalog = read_build(args.build, Shelf(args.folio))
    if args.action == "fill":
        return _fill(args, text, build, catalog)
    checked = check(text, build, catalog)
    if args.json:
        # The document has no room for why a mark cannot be read.
        _tell_broken(args.text, checked.wrong)
        print_json(checked.as_json())
    else:
        _print_checked(checked)
    return int(bool(checked.wrong))


def _draft(args: argparse.Namespace) -> int:
    from engine.audit.audit import audit_of
    from engine.audit.context import AuditContext
    from engine.audit.goals import goals_of

    build, catalog = read_build(args.build, Shelf(args.folio))
    context = AuditContext.of(build, catalog)
    unfinished = [f.message for f in audit_of(context) if f.severity in ("breaks-rules", "unfinished")]
    text = draft(build, catalog, context.sheets, goals_of(context), unfinished)
    if args.text not in (None, "-"):
        try:
            # Never over a text that somebody has worked on.
            with Path(args.text).open("x", encoding="utf-8", newline="") as file:
                file.write(text)
        except FileExistsError as error:
            raise Stop(f"{args.text}:1:1: the file exists already and was left alone; name a new one") from error
        except OSError as error:
            raise Stop(f"{args.text}:1:1: the file cannot be written ({error.strerror})") from error
    _print_text(args, text)
    return 0


def _fill(args: argparse.Namespace, text: str, build: Build, catalog: Catalog) -> int:
    filled = fill(text, build, catalog)
    _tell_broken(args.text, filled.broken)
    _print_text(args, filled.text)
    return int(bool(filled.broken))


def _strip(args: argparse.Namespace) -> int:
    _print_text(args, strip(_text(args)))
    return 0


def _text(args: argparse.Namespace) -> str:
    if args.text is None:
        raise Stop(f"buildmoot writeup {args.action}: the text is needed, a Markdown file or - for standard input")
    try:
        data = sys.stdin.buffer.read(LONGEST + 1) if args.text == "-" else Path(args.text).read_bytes()
    except OSError as error:
        raise Stop(f"{args.text}:1:1: the file cannot be read ({error.strerror}); expected a Markdown text") from error
    text = decoded(data)
    if isinstance(text, Refused):
        raise Stop(f"{args.text}:1:1: {text.sentence}")
    return text


def _print_text(args: argparse.Namespace, text: str) -> None:
    if args.json:
        print_json({"text": text})
        return
    # As bytes: a text keeps its own line ends on every system.
    sys.stdout.flush()
    sys.stdout.buffer.write(text.encode())
    sys.stdout.buffer.flush()


def _tell_broken(file: str, wrong: tuple[Wrong, ...]) -> None:
    for each in wrong:
        if each.right is None:
            print(f"{file}:{each.line}:{each.column}: {each.sentence}", file=sys.stderr)


def _print_checked(checked: Checked) -> None:
    total = checked.right + len(checked.wrong)
    print(f"{checked.right} of {total} marked numbers are right.")
    for each in checked.wrong:
        print(f"line {each.line}: {each.sentence}")
        if each.reasons:
            print(f"  {', '.join(f'{amount(r.amount)} {r.label}' for r in each.reasons)}")
    if checked.unmarked:
        print(f"{len(checked.unmarked)} numbers bear no mark; if they are the build's, write:")
    for found in checked.unmarked:
        print(f"line {found.line}: {found.text}: {found.proposal}")

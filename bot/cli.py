"""The `buildmoot` command. Every subcommand imports what it needs when it runs, so a file command stays quick.

Exit codes: 0 fine; 1 audit: unwaived findings that break rules, diff: a difference, goals: one unmet; 2 bad input;
3 internal error. On 2 and 3 standard output is empty.
"""

import argparse
import sys
from collections.abc import Callable, Sequence
from typing import NoReturn

EPILOGUE = (
    "Numbers follow the published rules release named on the build; at the table the game master's ruling stands."
)


class Parser(argparse.ArgumentParser):
    """An argument parser whose errors are one plain sentence."""

    def error(self, message: str) -> NoReturn:
        """Print the sentence and leave with 2."""
        self.exit(2, f"{self.prog}: {message}; see `{self.prog} --help`\n")


Command = Callable[[argparse.Namespace], int]


def _late(module: str) -> Command:
    """Return a command that imports its module only when it runs."""

    def run(args: argparse.Namespace) -> int:
        from importlib import import_module

        result: int = import_module(f"bot.filecommands.{module}").run(args)
        return result

    return run


def parser() -> Parser:
    """Return the parser of the whole command line."""
    top = Parser(prog="buildmoot", description="Group build review for fifth-edition d20 characters.", epilog=EPILOGUE)
    commands = top.add_subparsers(dest="command", metavar="COMMAND", required=True, parser_class=Parser)

    def add(name: str, help_: str, module: str) -> Parser:
        sub = commands.add_parser(name, help=help_, description=help_)
        sub.set_defaults(run=_late(module))
        return sub

    def shared(sub: Parser, *, rules: bool = False) -> None:
        sub.add_argument("--json", action="store_true", help="print one JSON document")
        sub.add_argument("--folio", action="append", default=[], metavar="FOLDER", help="add a folio (repeatable)")
        if rules:
            sub.add_argument("--rules", default="srd-5.1", metavar="ID", help="rules release (default srd-5.1)")

    sheet = add("sheet", "every number of a build at a level, with its reasons", "sheet")
    sheet.add_argument("file", metavar="FILE", help="outline of the build, or - for standard input")
    which = sheet.add_mutually_exclusive_group(required=True)
    which.add_argument("--level", type=int, metavar="N", help="character level, 1 to 20")
    which.add_argument("--all", action="store_true", help="every level the build has")
    sheet.add_argument(
        "--pdf", metavar="OUT", help="write a PDF: the sheet at --level, or with --all the plan of twenty"
    )
    sheet.add_argument("--png", metavar="OUT", help="write a picture of the first page")
    sheet.add_argument("--paper", choices=["a4", "us-letter"], default="a4", help="of the PDF (default a4)")
    sheet.add_argument("--while", dest="states", action="append", default=[], metavar="STATE", help="switch a state on")
    shared(sheet)

    audit = add("audit", "what breaks the rules, needs a ruling or is unfinished", "audit")
    audit.add_argument("file", metavar="FILE", nargs="?")
    audit.add_argument("--table", metavar="RULES.yaml", help="also audit by a table's rules")
    audit.add_argument("--codes", action="store_true", help="list every finding code")
    shared(audit)

    diff = add("diff", "what changes between two builds, level by level", "diff")
    diff.add_argument("before", metavar="A")
    diff.add_argument("after", metavar="B")
    shared(diff)

    goals = add("goals", "which goals a build meets, and from which level", "goals")
    goals.add_argument("file", metavar="FILE")
    shared(goals)

    standing = add("standing", "strengths, weaknesses and gaps among reference builds, level by level", "standing")
    standing.add_argument("file", metavar="FILE")
    standing.add_argument("--details", action="store_true", help="also gaps and what counts as typical of a level")
    shared(standing)

    against = add("against", "exact average chances against creatures of the rules", "against")
    against.add_argument("file", metavar="FILE")
    against.add_argument("--level", type=int, metavar="N", help="character level; the last one if left out")
    against.add_argument("--challenge", metavar="RANGE", help="such as 1/4, 3 or 3-5")
    against.add_argument("--type", metavar="TYPE", help="such as dragon")
    against.add_argument("--name", metavar="NAME", help="one creature")
    shared(against)

    archive = add("archive", "everything of a server in one file: list it, load it into a database, make it", "archive")
    archive.add_argument("file", metavar="FILE.zip")
    deed = archive.add_mutually_exclusive_group()
    deed.add_argument("--to", metavar="FOLDER", help="write every build as an outline into this folder, and folios")
    deed.add_argument("--load", action="store_true", help="put it into the database of BUILDMOOT_DATABASE_URL")
    deed.add_argument("--save", type=int, metavar="SERVER", help="make it, of this server of that database")
    archive.add_argument("--server", type=int, metavar="ID", help="with --load: into this server, not its own")
    archive.add_argument("--json", action="store_true", help="print one JSON document")

    writeup = add(
        "writeup", "a write-up whose every number is right: frame, check, fill in, take the marks off", "writeup"
    )
    writeup.add_argument("action", choices=["draft", "check", "fill", "strip"])
    writeup.add_argument("text", metavar="TEXT.md", nargs="?", help="the write-up, or - for standard input")
    writeup.add_argument("--build", metavar="FILE", help="outline of the build that the numbers come from")
    shared(writeup)

    outline = add("outline", "read an outline; print it back or as a document", "outline")
    outline.add_argument("file", metavar="FILE", nargs="?")
    outline.add_argument("--print", dest="printed", action="store_true", help="print the outline back")
    outline.add_argument("--schema", action="store_true", help="print the JSON Schema of the document")
    shared(outline)

    facts = add("facts", "facts of the rules content", "facts")
    facts.add_argument("kind", metavar="KIND", help="class, subclass, species, background, feat, spell, item...")
    facts.add_argument("name", metavar="NAME", nargs="?")
    shared(facts, rules=True)

    from bot.filecommands.odds_arguments import add_odds

    add_odds(add("odds", "exact odds", "odds"))

    folio = add("folio", "check a folio, or print the schema of the format or a template to fill in", "folio")
    folio.add_argument("action", choices=["check", "schema", "template"])
    folio.add_argument("folder", metavar="FOLDER", nargs="?", help="folder, single YAML file, or zip of a folio")
    shared(folio)

    add("run", "serve a real chat server; the token comes from BUILDMOOT_TOKEN", "run")
    add("migrate", "bring the database schema up to date", "migrate")
    return top


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line; return the exit code."""
    args = parser().parse_args(argv)
    try:
        code: int = args.run(args)
        sys.stdout.flush()
    except BrokenPipeError:
        return 0
    except Exception as error:
        from bot.filecommands.reading import Stop

        if isinstance(error, Stop):
            print(*error.lines, sep="\n", file=sys.stderr)
            return 2
        print(f"buildmoot: internal error, please report it: {type(error).__name__}: {error}", file=sys.stderr)
        return 3
    return code


if __name__ == "__main__":
    sys.exit(main())

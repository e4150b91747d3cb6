"""`buildmoot audit`: findings by the rules release and, if given, by a table's rules."""

import argparse

from bot.filecommands.printing import print_json
from bot.filecommands.reading import Shelf, Stop, read_build, read_text
from engine.audit import CODES, TableRules, audit, finding_json, read_table


def run(args: argparse.Namespace) -> int:
    """Print the findings. Exit 1 if one breaks the rules or the table's rules."""
    if args.codes:
        codes = [{"code": c.code, "severity": c.severity, "meaning": c.meaning} for c in CODES.values()]
        if args.json:
            print_json({"codes": codes})
        else:
            for row in codes:
                print(f"{row['code']:32} {row['severity']:18} {row['meaning']}")
        return 0
    if args.file is None:
        raise Stop("buildmoot audit: a FILE is needed, or --codes")
    build, catalog = read_build(args.file, Shelf(args.folio))
    table = None
    if args.table:
        rules = read_table(read_text(args.table).encode())
        if not isinstance(rules, TableRules):
            raise Stop("\n".join(f"{args.table}:{problem}" for problem in rules))
        table = rules
    findings = audit(build, catalog, table)
    if args.json:
        print_json({"findings": [finding_json(f) for f in findings]})
    else:
        for f in findings:
            where = f"level {f.level}" if f.level else "header"
            print(f"{f.severity}: {where}: {f.message} [{f.code}; {f.source}]")
        if not findings:
            print(f"{build.name}: nothing to report.")
    return int(any(f.severity in ("breaks-rules", "breaks-table-rules") for f in findings))

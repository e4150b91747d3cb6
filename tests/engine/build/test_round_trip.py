"""parse(print(b)) == b for every build document, whatever its names look like."""

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine.build.document import Build
from engine.build.outline import (
    parse_line,
    parse_outline,
    print_header,
    print_level,
    print_outline,
    replace_header,
    replace_level,
)
from engine.rules.catalog import Catalog
from tests.engine.build.small_folio import both_catalog, named_catalog, small_catalog
from tests.strategies import Documents, hard_text

SMALL = small_catalog()
BOTH = both_catalog()
SLOW = settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck))


@SLOW
@given(Documents(SMALL).builds())
def test_printed_build_parses_back(build: Build) -> None:
    """Names of the small release hold every sign of the grammar."""
    text = print_outline(build, SMALL)
    assert parse_outline(text, SMALL) == build, text


@SLOW
@given(Documents(BOTH).builds())
def test_printed_build_parses_back_where_folios_share_names(build: Build) -> None:
    """A second folio gives names and ids that the release gives too."""
    text = print_outline(build, BOTH)
    assert parse_outline(text, BOTH) == build, text


@st.composite
def _drawn(draw: st.DrawFn) -> tuple[Catalog, Build]:
    # Names of content hold only signs that can be seen.
    names = st.lists(hard_text(80).filter(str.isprintable), min_size=1, max_size=6, unique=True)
    catalog = named_catalog(draw(names), draw(names))
    return catalog, draw(Documents(catalog).builds())


@settings(SLOW, max_examples=50)
@given(_drawn())
def test_drawn_names_parse_back(drawn: tuple[Catalog, Build]) -> None:
    """Names of spells and items are drawn from `, ; ( ) : " +`, digits, `for` and anything else."""
    catalog, build = drawn
    text = print_outline(build, catalog)
    assert parse_outline(text, catalog) == build, text


@SLOW
@given(Documents(BOTH).builds(), st.data())
def test_header_and_lines_parse_back_alone(build: Build, data: st.DataObject) -> None:
    """The forms for header and level lines change nothing if nothing was typed."""
    assert replace_header(build, print_header(build, BOTH), BOTH) == build
    if build.top:
        level = data.draw(st.integers(1, build.top))
        line = print_level(build, level, BOTH)
        assert replace_level(build, level, line, BOTH) == build, line
        read = parse_line(line, BOTH, build, level)
        assert not isinstance(read, list), read
        _, class_id, _, kept = list(build.lines())[level - 1]
        assert (read.first, read.last, read.class_id, read.line) == (level, level, class_id, kept)


@SLOW
@given(Documents(SMALL).builds())
def test_printing_is_stable(build: Build) -> None:
    """What was parsed from a printed outline prints the same again."""
    text = print_outline(build, SMALL)
    again = parse_outline(text, SMALL)
    assert isinstance(again, Build)
    assert print_outline(again, SMALL) == text

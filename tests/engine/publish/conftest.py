"""The rules release and the example build, read once."""

from pathlib import Path

import pytest

from engine.build.document import Build
from engine.build.outline import parse_outline
from engine.rules.catalog import Catalog
from engine.sheet import Sheet, timeline
from engine.store.folio_files import load_shipped

DATA = Path(__file__).parents[2] / "data"


@pytest.fixture(scope="session")
def release() -> Catalog:
    return Catalog([load_shipped("srd-5.1")])


@pytest.fixture(scope="session")
def warden(release: Catalog) -> Build:
    """The Reed Warden of the outline page, eight levels."""
    build = parse_outline((DATA / "reed-warden.outline").read_text(encoding="utf-8"), release)
    assert isinstance(build, Build), build
    return build


@pytest.fixture(scope="session")
def sheets(warden: Build, release: Catalog) -> tuple[Sheet, ...]:
    return timeline(warden, release)

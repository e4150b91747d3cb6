"""Catalogues of the audit's tests: the release alone, and with a small folio of our own beside it."""

import pytest

from engine.rules.catalog import Catalog
from engine.rules.folio import Folio
from engine.rules.loader import read_folio
from engine.store.folio_files import load_shipped

TIDEWATER = {
    "folio.yaml": b"""
id: tidewater
title: Tidewater
version: "2"
licence: ours
attribution: the guild of coastal cartographers
extends: srd-5.1
""",
    "subclasses/quay-guard.yaml": b"""
id: quay-guard
name: Quay Guard
of: fighter
features:
  - {id: quay-step, name: Quay Step, level: 3, no_number: it moves others}
""",
    "backgrounds/net-mender.yaml": b"""
id: net-mender
name: Net Mender
features:
  - {id: net-mender-skills, name: Skill Proficiencies, grants: [{kind: proficiency, of: skill, ids: [perception]}]}
""",
    # More than one build takes in: 120 grants of 40 spells each.
    "backgrounds/wreck-hoard.yaml": b"id: wreck-hoard\nname: Wreck Hoard\nfeatures:\n"
    b"- id: hoard\n  name: Hoard\n  grants:\n"
    + 120
    * (b"  - {kind: spell-damage, amount: 0, spells: [" + b"light, " * 39 + b"light]}\n"),
    "feats/deep-lungs.yaml": b"""
- {id: deep-lungs, name: Deep Lungs, repeatable: true, no_number: it changes how long a dive lasts}
""",
}


def tidewater() -> Folio:
    """The folio of the guild: a subclass, a background, a feat that may be taken again."""
    folio = read_folio(TIDEWATER)
    assert isinstance(folio, Folio), folio
    return folio


@pytest.fixture(scope="session")
def release() -> Catalog:
    return Catalog([load_shipped("srd-5.1")])


@pytest.fixture(scope="session")
def coast() -> Catalog:
    """The release with the guild's folio."""
    return Catalog([load_shipped("srd-5.1"), tidewater()])

"""Reading folios: every error at once, each with file, line and what would mend it; the hash; the cache."""

import pickle
from pathlib import Path

import pytest

from engine.rules.folio import Folio, FolioProblem, folio_hash
from engine.rules.limits import MAX_BYTES
from engine.rules.loader import read_folio
from engine.store.folio_files import (
    SHIPPED,
    BrokenFolio,
    folio_bytes,
    load_folder,
    load_shipped,
    shipped_folios,
)

HEADER = b"""id: tide-guild
title: Tide Guild
version: "1"
licence: CC-BY-4.0
attribution: the guild of coastal cartographers
"""
FEAT = b"""id: sounding
name: Sounding
section: Tide Book
grants:
  - kind: sense
    sense: darkvision
    feet: 30
"""


def problems(files: dict[str, bytes]) -> list[FolioProblem]:
    found = read_folio({"folio.yaml": HEADER, **files})
    assert isinstance(found, list), found.entries
    assert found
    return found


def test_a_small_folio() -> None:
    found = read_folio({"folio.yaml": HEADER, "feats/sounding.yaml": FEAT, "LICENCE.md": b"free"})
    assert isinstance(found, Folio)
    assert (found.id, found.title, list(found.entries["feat"])) == ("tide-guild", "Tide Guild", ["sounding"])
    assert [(kind, entry.id) for kind, entry in found.all()] == [("feat", "sounding")]


def test_one_file_may_hold_many_entries() -> None:
    many = b"- {id: a, name: A, no_number: none}\n- {id: b, name: B, no_number: none}\n"
    found = read_folio({"folio.yaml": HEADER, "feats/many.yaml": many})
    assert isinstance(found, Folio)
    assert list(found.entries["feat"]) == ["a", "b"]


@pytest.mark.parametrize(
    ("path", "text", "line", "said"),
    [
        # the line is that of the key at fault
        (
            "feats/x.yaml",
            FEAT.replace(b"feet: 30", b"feets: 30"),
            7,
            "`grants.0.feets` is no key that is known here; nearest known keys: feet",
        ),
        ("feats/x.yaml", FEAT.replace(b"section: Tide", b"secton: Tide"), 3, "nearest known keys: section"),
        ("feats/x.yaml", FEAT.replace(b"darkvision", b"dark vision"), 6, "darkvision"),
        ("feats/x.yaml", FEAT.replace(b"kind: sense", b"kind: sens"), 5, "sense"),
        ("feats/x.yaml", FEAT.replace(b"feet: 30", b"feet: wiz * 10"), 7, "`wiz` is no word of formulas"),
        ("feats/x.yaml", FEAT.replace(b"feet: 30", b"feet: [30]"), 7, "a formula is a text"),
        ("feats/x.yaml", FEAT.replace(b"feet: 30", b"feet: 2d6 + 1"), 7, "counts with dice"),
        (
            "feats/x.yaml",
            FEAT.replace(b"id: sounding", b"id: Sounding Line"),
            1,
            "`Sounding Line` is no id; use small letters",
        ),
        ("feats/x.yaml", b"id: empty\nname: Empty\n", 1, "needs `grants`, or `no_number`"),
        ("feats/x.yaml", b"id: a\nname: [\n", 3, "not readable as YAML"),
        ("feats/x.yaml", b"", 0, "the file is empty"),
        ("feats/x.yaml", b"- {id: a, name: A, no_number: x}\n- {id: b, no_number: x}\n", 2, "`name` is missing"),
        ("feat/x.yaml", FEAT, 0, "`feat` is no folder of a folio; nearest: feats"),
        ("spells/x.yaml", FEAT, 1, "school"),
        ("release.yaml", b"species_word: Folk\n", 1, "skills"),
    ],
)
def test_what_is_wrong_and_where(path: str, text: bytes, line: int, said: str) -> None:
    found = problems({path: text})
    assert {p.file for p in found} == {path}
    assert any(p.line == line and said in p.sentence for p in found), [str(p) for p in found]


def test_all_errors_of_all_files_are_told_at_once() -> None:
    found = problems(
        {
            "feats/a.yaml": FEAT.replace(b"30", b"wiz"),
            "feats/b.yaml": FEAT.replace(b"sounding", b"Sounding"),
            "spell/c.yaml": FEAT,
        }
    )
    assert {p.file for p in found} == {"feats/a.yaml", "feats/b.yaml", "spell/c.yaml"}


def test_an_id_given_twice() -> None:
    (problem,) = problems({"feats/a.yaml": FEAT, "feats/b.yaml": FEAT})
    assert "the feat `sounding` is given twice" in problem.sentence


def test_a_folio_needs_its_header() -> None:
    found = read_folio({"feats/sounding.yaml": FEAT})
    assert isinstance(found, list)
    assert "no `folio.yaml`" in found[0].sentence


def test_a_folio_may_not_be_endless() -> None:
    found = read_folio({"folio.yaml": HEADER, "feats/a.yaml": b"#" * (MAX_BYTES + 1)})
    assert isinstance(found, list)
    assert "8 MB" in found[0].sentence


def test_yaml_cannot_make_objects() -> None:
    (problem,) = problems({"feats/a.yaml": b"!!python/object/apply:os.system ['true']\n"})
    assert "is a YAML tag" in problem.sentence


def test_a_class_table_has_twenty_cells() -> None:
    text = b"""id: piper
name: Piper
section: Tide Book
hit_die: 8
saves: [dex, cha]
subclass_level: 3
subclass_title: Shanty
tables: {songs: [1, 2, 3]}
"""
    found = problems({"classes/piper.yaml": text})
    assert "the column `songs` has 3 cells; a class table has 20" in found[0].sentence


def test_what_stands_inside_is_lifted_out() -> None:
    text = b"""id: marsh-folk
name: Marsh Folk
section: Tide Book
subspecies:
  - {id: reed-folk, name: Reed Folk}
"""
    found = read_folio({"folio.yaml": HEADER, "species/marsh.yaml": text})
    assert isinstance(found, Folio)
    inner = found.entries["species"]["reed-folk"]
    assert (getattr(inner, "of", None), inner.section) == ("marsh-folk", "Tide Book, Marsh Folk")


def test_problems_read_like_those_of_a_compiler() -> None:
    assert str(FolioProblem("feats/a.yaml", 3, "wrong")) == "feats/a.yaml:3: wrong"
    assert str(FolioProblem("feats/a.yaml", 0, "wrong")) == "feats/a.yaml: wrong"


def test_the_hash_tells_names_and_bytes_apart() -> None:
    one = folio_hash({"a": b"bc", "d": b""})
    assert one == folio_hash({"d": b"", "a": b"bc"})
    assert len({one, folio_hash({"a": b"b", "d": b"c"}), folio_hash({"ab": b"c", "d": b""})}) == 3


# -- on disk ----------------------------------------------------------------------------------------------------


def test_shipped_folios_are_sound() -> None:
    assert "srd-5.1" in shipped_folios()
    for id_ in shipped_folios():
        folio = load_shipped(id_)
        assert folio.id == id_
        assert folio.hash == folio_hash(folio_bytes(SHIPPED / id_))
    with pytest.raises(FileNotFoundError):
        load_shipped("srd-9.9")


def test_a_folder_with_faults(tmp_path: Path) -> None:
    (tmp_path / "folio.yaml").write_bytes(HEADER.replace(b"title", b"titel"))
    with pytest.raises(BrokenFolio, match="nearest known keys: title") as caught:
        load_folder(tmp_path)
    assert caught.value.folder == tmp_path


def test_the_cache_gives_the_same_folio(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BUILDMOOT_CACHE", str(tmp_path))
    load_shipped.cache_clear()
    first = load_shipped("srd-5.1")
    (place,) = (tmp_path / "buildmoot").iterdir()
    load_shipped.cache_clear()
    second = load_shipped("srd-5.1")
    assert second is not first
    assert second.hash == first.hash
    assert second.entries == first.entries
    assert second.release == first.release
    # A cache that is no folio, or cannot be read at all, is read again from the source.
    for content in (pickle.dumps("something else"), b"not a pickle"):
        place.write_bytes(content)
        load_shipped.cache_clear()
        assert load_shipped("srd-5.1").hash == first.hash
    load_shipped.cache_clear()


def test_a_cache_that_cannot_be_written_is_no_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    monkeypatch.setenv("BUILDMOOT_CACHE", str(blocked))
    load_shipped.cache_clear()
    assert load_shipped("srd-5.1").id == "srd-5.1"
    load_shipped.cache_clear()
    assert [path.name for path in tmp_path.iterdir()] == ["file"]

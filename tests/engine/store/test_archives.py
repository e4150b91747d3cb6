"""Folios that come as zips: unpacked in memory with limits on everything, or refused in one sentence."""

import io
import stat
import time
import zipfile
from pathlib import Path

import pytest

from engine.rules.folio import Folio, FolioProblem
from engine.store.archives import MAX_UNPACKED, MAX_ZIP, MAX_ZIPPED_FILES, unpacked
from engine.store.folio_files import BrokenFolio, folio_bytes, load_folder

FOLIOS = Path(__file__).parents[2] / "data" / "folios"


def zipped(files: dict[str, bytes], packing: int = zipfile.ZIP_DEFLATED) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", packing) as archive:
        for path, data in files.items():
            archive.writestr(path, data)
    return made.getvalue()


def test_a_zip_is_the_folder_it_was_made_of(tmp_path: Path) -> None:
    """Same files, same hash, whether there is a folder around them or not; what file managers add is left out."""
    files = folio_bytes(FOLIOS / "coast-pilots")
    junk = {"__MACOSX/._folio.yaml": b"\0", ".DS_Store": b"\0", "empty/": b""}
    assert unpacked("x.zip", zipped({**files, **junk})) == files
    assert unpacked("x.zip", zipped({f"coast-pilots/{path}": data for path, data in files.items()})) == files
    place = tmp_path / "pilots.zip"
    place.write_bytes(zipped(files))
    assert load_folder(place).hash == load_folder(FOLIOS / "coast-pilots").hash


def link() -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        info = zipfile.ZipInfo("feats/x.yaml")
        info.external_attr = (stat.S_IFLNK | 0o777) << 16
        archive.writestr(info, "/etc/passwd")
    return made.getvalue()


def locked() -> bytes:
    data = bytearray(zipped({"folio.yaml": b"id: x"}))
    data[6] |= 1  # in the file's header and in the directory
    data[data.index(b"PK\x01\x02") + 8] |= 1
    return bytes(data)


def torn() -> bytes:
    """A zip whose packed text no longer makes sense: found by changing its bytes one by one."""
    data = bytearray(zipped({"folio.yaml": bytes(range(65, 91)) * 40}))
    first = 30 + len("folio.yaml")
    data[first : first + 4] = b"\xff\xff\xff\xff"
    return bytes(data)


def liar() -> bytes:
    """A zip that says of ten megabytes that they are ten bytes."""
    data = bytearray(zipped({"folio.yaml": b"a" * 10_000_000}))
    at = data.index(b"PK\x01\x02")
    data[at + 24 : at + 28] = (10).to_bytes(4, "little")
    return bytes(data)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"id: x\n", "this is no zip"),
        (zipped({"folio.yaml": b"id: x"})[:40], "cannot be unpacked"),
        (zipped({"../folio.yaml": b""}), "leads out of the folder"),
        (zipped({"/etc/folio.yaml": b""}), "leads out of the folder"),
        (zipped({"a\\..\\folio.yaml": b""}), "leads out of the folder"),
        (zipped({"c:folio.yaml": b""}), "leads out of the folder"),
        (zipped({"feats/a/../../x.yaml": b""}), "leads out of the folder"),
        (zipped({f"{'a' * 200}.yaml": b""}), "a name no folio needs"),
        (zipped({"a\u202ey.yaml": b""}), "a name no folio needs"),
        (zipped({"run.sh": b""}), "`run.sh` is no part of a folio"),
        (zipped({"inner.zip": zipped({"folio.yaml": b""})}), "is no part of a folio"),
        (link(), "is a link"),
        (locked(), "is locked with a password"),
        (zipped({"folio.yaml": b"a" * (MAX_UNPACKED + 1)}), "unpacks to more than 4 MB"),
        (zipped({f"feats/{i}.yaml": b"a" * 1_000_000 for i in range(5)}), "unpacks to more than 4 MB"),
        (zipped({f"feats/{i}.yaml": b"" for i in range(MAX_ZIPPED_FILES + 1)}), "a folio may have 300"),
        (zipped({"folio.yaml": b"a"}, zipfile.ZIP_STORED) + b"\0" * MAX_ZIP, "a folio may come in 2 MB"),
        (liar(), "cannot be unpacked"),
        (torn(), "cannot be unpacked"),
        (zipped({"folio.yaml": b"id: x"}, zipfile.ZIP_LZMA), "is packed in a way that few programs read"),
    ],
    ids=lambda value: value if isinstance(value, str) else "zip",  # a zip holds the time, and no test's name may
)
def test_what_is_refused(data: bytes, said: str) -> None:
    start = time.perf_counter()
    found = unpacked("tides.zip", data)
    assert time.perf_counter() - start < 2
    assert isinstance(found, FolioProblem), found
    assert found.file == "tides.zip"
    assert said in found.sentence


def test_one_path_twice() -> None:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        archive.writestr("folio.yaml", "id: x")
        with pytest.warns(UserWarning, match="Duplicate name"):
            archive.writestr("folio.yaml", "id: y")
    found = unpacked("x.zip", made.getvalue())
    assert isinstance(found, FolioProblem)
    assert "twice" in found.sentence


def test_links_out_of_a_folder_are_not_followed(tmp_path: Path) -> None:
    (tmp_path / "secret.yaml").write_text("id: secret\n")
    folder = tmp_path / "folio"
    (folder / "feats").mkdir(parents=True)
    (folder / "folio.yaml").write_text("id: x\n")
    (folder / "feats" / "x.yaml").symlink_to(tmp_path / "secret.yaml")
    assert list(folio_bytes(folder)) == ["folio.yaml"]


def test_a_folder_without_end(tmp_path: Path) -> None:
    (tmp_path / "folio.yaml").write_bytes(b"#" * 9_000_000)
    with pytest.raises(BrokenFolio, match="8 MB"):
        load_folder(tmp_path)


def test_one_file_is_the_same_folio_under_every_name(tmp_path: Path) -> None:
    text = (FOLIOS / "driftborn.yaml").read_bytes()
    for name in ("a.yaml", "folio.yaml"):
        (tmp_path / name).write_bytes(text)
    first, second = load_folder(tmp_path / "a.yaml"), load_folder(tmp_path / "folio.yaml")
    assert isinstance(first, Folio)
    assert first.hash == second.hash == load_folder(FOLIOS / "driftborn.yaml").hash

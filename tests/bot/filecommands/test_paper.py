"""`buildmoot sheet --pdf` and `--png` from the outside: what is written, where, and that bad input writes nothing."""

import io
import json
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image
from pypdf import PdfReader

from bot.cli import main

ROOT = Path(__file__).parents[3]
BUILD = str(ROOT / "tests" / "data" / "reed-warden.outline")
# ANSI/ASME Y14.1 letter and ISO 216 A4, points of 1/72 inch.
LETTER, A4 = (612, 792), (595, 842)


def pages(data: bytes) -> tuple[int, tuple[int, int], str]:
    """Return how many pages a PDF has, the size of the first, and its text."""
    reader = PdfReader(io.BytesIO(data))
    box = reader.pages[0].mediabox
    return len(reader.pages), (round(box.width), round(box.height)), reader.pages[0].extract_text()


def test_a_sheet_is_written_as_pdf_and_as_picture(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pdf, png = tmp_path / "sheet.pdf", tmp_path / "sheet.png"
    assert main(["sheet", BUILD, "--level", "8", "--pdf", str(pdf), "--png", str(png), "--paper", "us-letter"]) == 0
    assert capsys.readouterr().out == (
        f"{pdf}: sheet at level 8 of Reed Warden, us-letter\n{png}: sheet at level 8 of Reed Warden, us-letter\n"
    )
    count, size, text = pages(pdf.read_bytes())
    assert (count, size) == (1, LETTER)
    assert text.startswith("Reed Warden\nLevel 8 · Rogue 4 (Thief), Ranger 4 (Hunter)")
    with Image.open(png) as image:
        assert image.format == "PNG"
        assert image.width / image.height == pytest.approx(612 / 792, rel=0.01)


def test_the_plan_of_all_levels_takes_two_pages(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pdf = tmp_path / "plan.pdf"
    assert main(["sheet", BUILD, "--all", "--pdf", str(pdf), "--json"]) == 0
    out, err = capsys.readouterr()
    assert len(json.loads(out)["levels"]) == 8
    assert err == f"{pdf}: plan of all levels of Reed Warden, a4\n"
    count, size, text = pages(pdf.read_bytes())
    assert (count, size) == (2, A4[::-1])
    assert "Ranger 4" in text


def test_states_are_named_on_the_sheet(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pdf = tmp_path / "sheet.pdf"
    assert main(["sheet", BUILD, "--level", "8", "--pdf", str(pdf), "--while", "Poisoned"]) == 0
    assert "while Poisoned" in pages(pdf.read_bytes())[2]


def test_a_picture_on_standard_output_is_alone_there(capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    assert main(["sheet", BUILD, "--level", "8", "--png", "-"]) == 0
    out, err = capsysbinary.readouterr()
    assert (out[:8], err) == (b"\x89PNG\r\n\x1a\n", b"")


def test_a_document_on_standard_output_is_alone_there() -> None:
    command = [sys.executable, "-m", "bot.cli", "sheet", BUILD, "--level", "8", "--pdf", "-"]
    ran = subprocess.run(command, capture_output=True, check=False, cwd=ROOT)
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert ran.stdout.startswith(b"%PDF")
    assert pages(ran.stdout)[0] == 1


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--level", "9"], "there is no level 9"),
        (["--all", "--while", "Poisoned"], "the plan of all levels counts no states; leave out --while"),
        (["--level", "8", "--while", "Seasick"], "Seasick"),
    ],
)
def test_bad_input_leaves_what_is_there(
    words: list[str], sentence: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pdf = tmp_path / "sheet.pdf"
    pdf.write_bytes(b"mine")
    assert main(["sheet", BUILD, *words, "--pdf", str(pdf)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert sentence in err
    assert pdf.read_bytes() == b"mine"


def test_a_place_that_cannot_be_written_is_bad_input(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    place = tmp_path / "none" / "sheet.pdf"
    assert main(["sheet", BUILD, "--level", "8", "--pdf", str(place)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err == f"{place}:1:1: the file cannot be written (No such file or directory)\n"

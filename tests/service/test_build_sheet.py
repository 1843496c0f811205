"""``parchd build-sheet`` as people use it: typed, asked in a terminal, from a farm's configuration, into files."""

import re
from pathlib import Path

import pytest

from parchd.testing.commands import parchd
from parchd.testing.dialogue import Dialogue
from parchd.testing.sheets import PRICES
from parchd.workbench.price_file import parse_prices

TYPED = ("build-sheet", "--depth", 30, "--depth", 60, "--count", 6, "--altitude", 420)
CONFIG = Path(__file__).parents[2] / "config"


def test_typed_in_it_prints_a_sheet_and_asks_nothing() -> None:
    said = parchd(*TYPED)
    assert (said.code, said.err) == (0, "")
    assert re.search(r"^  30 +3  1-3 +45 +27 +49  4\.80 +75\.3$", said.out, re.MULTILINE)
    assert re.search(r"^  60 +3  4-6 +75 +57 +79  7\.73 +72\.4$", said.out, re.MULTILINE)
    assert "No costs" in said.out


def test_24_inches_of_depth_make_a_lower_tube_of_30_inches() -> None:
    said = parchd("build-sheet", "--depth", 24, "--unit", "in", "--altitude", "1400ft")
    assert re.search(r"^  24 +1 +1 +30 +22 3/4 ", said.out, re.MULTILINE)
    assert "lower tube: depth + 6 in to cut" in said.out
    assert "427 m (1400 ft)" in said.out


def test_the_numbers_are_shared_or_said_for_each() -> None:
    def numbers(*words: object) -> list[str]:
        out = parchd("build-sheet", "--altitude", 0, *words).out
        return re.findall(r"^  \d+ +(\d+) +\d+(?:-\d+)? ", out, re.MULTILINE)

    assert numbers("--depth", 30, "--depth", 60) == ["1", "1"]
    assert numbers("--depth", 30, "--depth", 30, "--depth", 60) == ["2", "1"]
    assert numbers("--depth", 30, "--depth", 60, "--count", 6) == ["3", "3"]
    assert numbers("--depth", 30, "--depth", 30, "--depth", 60, "--count", 6) == ["4", "2"]
    assert numbers("--depth", 30, "--depth", 60, "--each", 6) == ["6", "6"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--depth=-30", "--altitude", 0), "more than 0: -30 cm"),
        (("--depth", "-30", "--altitude", 0), "more than 0: -30 cm"),
        (("--depth", "deep", "--altitude", 0), "'deep' is no length"),
        (("--depth", 30), "give it with --altitude"),
        (("--altitude", 30), "no depth was given"),
        (("--depth", 30, "--altitude", "high"), "'high' is no altitude"),
        (("--depth", 30, "--depth", 60, "--count", 7, "--altitude", 0), "cannot be shared evenly among 2 depths"),
        (("--depth", 30, "--count", -2, "--altitude", 0), "at least 1"),
        (("--depth", 30, "--altitude", 0, "--output", "sheet.pdf"), "call it sheet.html"),
        (("--depth", 300, "--altitude", 0), "does not come out of a pipe of 300 cm"),
        (("--depth", 30, "--altitude", 0, "--kerf", "6cm"), "a saw takes 0 to 50 mm"),
        (("--depth", 30, "--altitude", 0, "--above", 0), "the part above the ground is 1 to 100 cm"),
        (("--depth", 30, "--altitude", 0, "--spares", "nan"), "spares are 0 to 100 %"),
        (("--config", CONFIG / "farm.toml", "--depth", 30, "--site", "x"), "leave out --depth, --site"),
    ],
)
def test_what_cannot_be_built_is_said_in_one_line(words: tuple[object, ...], said: str) -> None:
    found = parchd("build-sheet", *words)
    assert (found.code, found.out) == (2, "")
    assert found.err.startswith("parchd: ")
    assert found.err.count("\n") == 1
    assert said in found.err


def test_a_depth_that_the_altitude_leaves_no_range_for_is_built_under_protest() -> None:
    found = parchd("build-sheet", "--depth", 150, "--altitude", 3400)
    assert found.code == 0
    assert "NOTE: At a depth of 150 cm a tensiometer can be believed up to 34 kPa only here" in found.out


def test_an_unknown_part_in_a_file_of_prices_is_named_with_what_was_meant(tmp_path: Path) -> None:
    file = tmp_path / "prices.toml"
    file.write_text("[parts]\ncup = 9.50\ntransducers = 14\n")
    found = parchd(*TYPED, "--prices", file)
    assert (found.code, found.out) == (78, "")
    assert f"{file}:3:" in found.err
    assert "did you mean transducer?" in found.err


@pytest.mark.parametrize(
    ("make", "said"),
    [(lambda _: None, "No such file"), (Path.mkdir, "Is a directory"), (lambda p: p.write_bytes(b"\xff"), "UTF-8")],
    ids=["missing", "folder", "bytes"],
)
def test_prices_that_cannot_be_read_are_said(tmp_path: Path, make: object, said: str) -> None:
    assert callable(make)
    make(tmp_path / "prices.toml")
    found = parchd(*TYPED, "--prices", tmp_path / "prices.toml")
    assert (found.code, found.out) == (1, "")
    assert said in found.err


def test_prices_bring_costs_and_the_break_even(tmp_path: Path) -> None:
    file = tmp_path / "prices.toml"
    file.write_text(PRICES)
    found = parchd(*TYPED, "--prices", file)
    # 7 each of 9.50 + 1.10 + 2 + 14 + 1.20 + 0.80 + 6 = 242.20; 2 pipes 8.40; 2 boards 44; 8.90 + 7 + 1 + 2
    assert re.search(r"^  parts +313\.50$", found.out, re.MULTILINE)
    # 63 for tools / (120 - 52.25) = 0.93; 6 x 120 - 313.50 - 63 = 343.50
    assert "Break-even: with the first, against a bought one at EUR 120.00." in found.out
    assert "Building 6 saves EUR 343.50" in found.out


def test_a_page_is_written_beside_the_text(tmp_path: Path) -> None:
    found = parchd(*TYPED, "--site", "Quillmere Orchard", "-o", tmp_path / "sheet.html")
    assert found.code == 0
    assert "BUILD SHEET: 6 tensiometers" in found.out
    assert "sheet.html is written: open it in a browser" in found.err
    page = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert "Quillmere Orchard, 420 m" in page
    assert page.count("<svg") == 2


def test_a_page_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    found = parchd(*TYPED, "-o", tmp_path / "missing" / "sheet.html")
    assert found.code == 1
    assert "cannot be written (No such file or directory)" in found.err


def test_the_farms_configuration_brings_depths_numbers_altitude_and_name() -> None:
    found = parchd("build-sheet", "--config", CONFIG / "farm.toml")
    assert found.code == 0
    assert "BUILD SHEET: 14 tensiometers" in found.out
    assert "Quillmere Orchard, 420 m" in found.out
    assert "NOTE: The configuration has other heights of water above the cup than this sheet" in found.out


def test_a_broken_configuration_is_reported_as_by_every_command(tmp_path: Path) -> None:
    (tmp_path / "farm.toml").write_text("[site]\nname = 3\n")
    found = parchd("build-sheet", "--config", tmp_path / "farm.toml")
    assert found.code == 78
    assert "site.name" in found.err


def test_a_terminal_that_shows_ascii_only_gets_the_sheet_all_the_same(tmp_path: Path) -> None:
    environ = {"PYTHONIOENCODING": "ascii"}
    with Dialogue(*TYPED, "--no-prices", "--site", "Mühlgrün €", folder=tmp_path, environ=environ) as dialogue:
        assert dialogue.ended() == 0
        assert "M?hlgr?n ?, 420 m" in dialogue.seen


def test_on_a_terminal_prices_are_asked_for_and_kept(tmp_path: Path) -> None:
    with Dialogue(*TYPED, "-o", "sheet.html", folder=tmp_path) as dialogue:
        dialogue.answer("Currency (such as EUR or $): ", "EUR")
        dialogue.answer("porous cup, each (7 pieces): ", "9,50")
        dialogue.answer("plastic pipe, rigid, a length (2 lengths): ", "four")
        dialogue.answer("'four' is no price: write 12.50\n  plastic pipe, rigid, a length (2 lengths): ", "4.20")
        dialogue.answer("tee, each (7 pieces): ", "12/10")
        for part in ("cap", "transducer", "fitting", "boot", "cable", "input", "epoxy", "cement", "tape", "paper"):
            dialogue.answer(f"{part}", "")
        dialogue.answer("(such as: hand pump 45): ", "hand pump 45")
        dialogue.answer("and: ", "")
        dialogue.answer("Price of one bought tensiometer that does the same: ", "100")
        (tmp_path / "taken.toml").write_text("mine")
        dialogue.answer("(name, or Enter): ", "taken.toml")
        dialogue.answer("taken.toml: not written (File exists); another name?\n", "")
        assert dialogue.ended() == 0
        assert "Break-even: at least 1" not in dialogue.seen
        # 66.50 + 8.40 + 12 = 86.90 for 6
        assert "One tensiometer: EUR 14.48 for parts" in dialogue.seen
        assert "sheet.html is written" in dialogue.seen
    assert (tmp_path / "taken.toml").read_text() == "mine"
    assert "EUR" in (tmp_path / "sheet.html").read_text()


def test_kept_prices_give_the_same_sheet_without_a_question(tmp_path: Path) -> None:
    with Dialogue(*TYPED, folder=tmp_path) as dialogue:
        dialogue.answer("Currency", "EUR")
        dialogue.answer("porous cup", "9.50")
        dialogue.expect("plastic pipe")
        dialogue.send("\x04")  # Ctrl-D: no more questions about prices
        assert dialogue.ended() == 0
        asked = dialogue.seen[dialogue.seen.index("BUILD SHEET") :]
    (tmp_path / "kept.toml").write_text('currency = "EUR"\n[parts]\ncup = 9.50\n')
    with Dialogue(*TYPED, "--prices", "kept.toml", folder=tmp_path) as dialogue:
        assert dialogue.ended() == 0
        assert dialogue.seen == asked


def test_prices_are_written_where_the_maker_says(tmp_path: Path) -> None:
    with Dialogue(*TYPED, "--gauge", folder=tmp_path) as dialogue:
        dialogue.answer("Currency", "$")
        for _ in range(11):
            dialogue.answer("): ", "2")
        dialogue.answer("(such as: hand pump 45): ", "")
        dialogue.answer("does the same: ", "")
        dialogue.answer("(name, or Enter): ", "mine.toml")
        assert dialogue.ended() == 0
    kept = parse_prices((tmp_path / "mine.toml").read_text(), "mine.toml")
    assert kept.currency == "$"
    assert "gauge" in kept.parts
    assert "transducer" not in kept.parts
    assert len(kept.parts) == 11


def test_with_nothing_said_a_terminal_is_asked_for_all_of_it(tmp_path: Path) -> None:
    with Dialogue("build-sheet", "--no-prices", "--unit", "in", folder=tmp_path) as dialogue:
        dialogue.answer("Depths to the middle of the cup, in (such as 12 24): ", "12 -3")
        dialogue.answer("depths are more than 0", "12 24")
        dialogue.answer("How many of each: ", "3")
        dialogue.answer("Altitude of the site, m (1400ft for feet): ", "1400ft")
        assert dialogue.ended() == 0
        assert "BUILD SHEET: 6 tensiometers" in dialogue.seen
        assert "427 m (1400 ft)" in dialogue.seen


def test_questions_stay_in_the_terminal_when_the_sheet_goes_into_a_file(tmp_path: Path) -> None:
    with Dialogue(
        "build-sheet", "--no-prices", "--depth", 30, folder=tmp_path, stdout=tmp_path / "out.txt"
    ) as dialogue:
        dialogue.answer("Altitude of the site", "420")
        assert dialogue.ended() == 0
    out = (tmp_path / "out.txt").read_text()
    assert out.startswith("BUILD SHEET: 1 tensiometer ")
    assert "Altitude of the site" not in out


def test_ctrl_d_at_a_question_that_must_be_answered_ends_it(tmp_path: Path) -> None:
    with Dialogue("build-sheet", folder=tmp_path) as dialogue:
        dialogue.expect("Depths")
        dialogue.send("\x04")
        assert dialogue.ended() == 2
        assert "no depth was given: name one with --depth" in dialogue.seen

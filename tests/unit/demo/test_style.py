"""What a terminal is given: letters it has, colours that can be told apart."""

import io
from itertools import pairwise

import pytest

from parchd.demo.style import ASCII, HEAT, UNICODE, style_for

XTERM = {"TERM": "xterm-256color"}


def out(encoding: str = "utf-8") -> io.TextIOWrapper:
    return io.TextIOWrapper(io.BytesIO(), encoding=encoding)


def rgb(index: int) -> tuple[int, int, int]:
    """A colour of the cube in the 256-colour table: 16 + 36 r + 6 g + b, levels 0, 95, 135, 175, 215, 255 (xterm)."""
    levels = (0, 95, 135, 175, 215, 255)
    return levels[(index - 16) // 36], levels[(index - 16) // 6 % 6], levels[(index - 16) % 6]


def luminance(index: int) -> float:
    """Relative luminance (WCAG 2.2, "relative luminance")."""
    shares = [value / 255 for value in rgb(index)]
    linear = [share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: float, other: float) -> float:
    """Contrast ratio (WCAG 2.2, "contrast ratio")."""
    return (max(one, other) + 0.05) / (min(one, other) + 0.05)


def test_each_colour_is_darker_than_the_one_for_moister_soil() -> None:
    steps = [luminance(index) for index in HEAT]
    assert all(moist > dry for moist, dry in pairwise(steps))
    assert all(contrast(moist, dry) > 1.15 for moist, dry in pairwise(steps))


def test_each_colour_can_be_seen_on_black_and_on_white() -> None:
    for index in HEAT:
        assert min(contrast(luminance(index), 0.0), contrast(luminance(index), 1.0)) > 2.5


def test_all_signs_differ_in_shape() -> None:
    for letters in (UNICODE, ASCII):
        assert len(set(letters.signs.values())) == len(letters.signs) == 7


@pytest.mark.parametrize(
    ("environ", "colours"),
    [
        (XTERM, True),
        ({"TERM": "xterm"}, False),
        ({"TERM": "xterm", "COLORTERM": "truecolor"}, True),
        ({**XTERM, "NO_COLOR": "1"}, False),
        ({**XTERM, "NO_COLOR": ""}, True),
    ],
)
def test_colours_are_sent_to_terminals_that_have_them_unless_forbidden(environ: dict[str, str], colours: bool) -> None:
    assert style_for(out(), environ).colours is colours


def test_letters_fit_the_encoding_and_the_font() -> None:
    assert style_for(out("utf-8"), XTERM).letters is UNICODE
    assert style_for(out("ascii"), XTERM).letters is ASCII
    assert style_for(out("utf-8"), {"TERM": "linux"}).letters is ASCII

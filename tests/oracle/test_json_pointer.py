"""JSON Pointer against RFC 6901 (P. Bryan, K. Zyp, M. Nottingham, JavaScript Object Notation (JSON) Pointer, 2013)."""

import json
from typing import Any

import pytest

from parchd_adapters._shared.pointer import look_up, parse_pointer

# Section 5 of the RFC: the example document and what each pointer evaluates to.
DOCUMENT: Any = json.loads(
    r"""
    {"foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, "k\"l": 6, " ": 7, "m~n": 8}
    """
)
SECTION_5: list[tuple[str, Any]] = [
    ("", DOCUMENT),
    ("/foo", ["bar", "baz"]),
    ("/foo/0", "bar"),
    ("/", 0),
    ("/a~1b", 1),
    ("/c%d", 2),
    ("/e^f", 3),
    ("/g|h", 4),
    ("/i\\j", 5),
    ('/k"l', 6),
    ("/ ", 7),
    ("/m~0n", 8),
]


@pytest.mark.parametrize(("pointer", "value"), SECTION_5)
def test_the_pointers_of_section_5_find_their_values(pointer: str, value: Any) -> None:
    assert look_up(DOCUMENT, parse_pointer(pointer)) == value


def test_a_tilde_is_decoded_after_the_slash() -> None:
    """Section 4: "~01" becomes "~1", not "/"."""
    assert parse_pointer("/~01") == ("~1",)
    assert look_up({"~1": 9, "/": 1}, parse_pointer("/~01")) == 9


@pytest.mark.parametrize("pointer", ["foo", "foo/0", "/~2", "/~", "/a~", "/~a", "~0"])
def test_what_breaks_the_syntax_of_section_3_is_refused(pointer: str) -> None:
    with pytest.raises(ValueError, match="JSON Pointer"):
        parse_pointer(pointer)


@pytest.mark.parametrize(
    "pointer",
    [
        "/foo/01",  # section 4: an index has no leading zero
        "/foo/-",  # section 4: "-" is the element after the last, which does not exist
        "/foo/2",
        "/foo/-1",
        "/foo/+0",
        "/foo/ 0",
        "/foo/1.0",
        "/foo/\u0660",  # a digit, but not an ASCII one
        "/foo/" + 5000 * "9",
        "/foo/bar",
        "/foo/0/0",
        "/nothing",
        "/a~1b/c",
    ],
)
def test_a_pointer_to_nothing_is_an_error_not_a_value(pointer: str) -> None:
    with pytest.raises(LookupError):
        look_up(DOCUMENT, parse_pointer(pointer))

"""How texts are found in the code."""

from pathlib import Path

import pytest

from parchd.words.gather import Found, gather, update


def found_in(folder: Path, code: str) -> Found:
    (folder / "module.py").write_text(code, "utf-8")
    return gather([folder], folder)


def test_texts_are_found_wherever_they_are_said(tmp_path: Path) -> None:
    code = (
        'WORDS = text("one {n}", n=1)\nvoice.say("two " "and a half")\nvoice.say(WORDS)\n'
        'voice.say_n("{n} pump", "{n} pumps", 2)\nFact("rose by" if up else "fell by", 1.0 * x, "kPa")\n'
        'Fact("last heard", "never")\nother("not this")\nx = noted("stored")\n'
    )
    assert set(found_in(tmp_path, code)) == {
        "one {n}", "two and a half", ("{n} pump", "{n} pumps"), "rose by", "fell by", "last heard", "never", "stored",
    }  # fmt: skip


@pytest.mark.parametrize("code", ['voice.say(f"{n} pumps")', 'voice.say("north: " + name)', 'x = text(f"a{b}")'])
def test_a_text_that_is_put_together_is_refused_with_its_line(tmp_path: Path, code: str) -> None:
    with pytest.raises(ValueError, match=r"module\.py:2: .* cannot be translated"):
        found_in(tmp_path, f"\n{code}\n")


def test_an_update_keeps_what_is_translated_and_drops_what_is_gone(tmp_path: Path) -> None:
    path = tmp_path / "de.po"
    path.write_text(
        'msgid ""\nmsgstr ""\n"Language: de\\n"\n\nmsgid "old"\nmsgstr "alt"\n\nmsgid "pump"\nmsgstr "Pumpe"\n'
    )
    update(path, {"pump": {"a.py"}, ("{n} h", "{n} hs"): {"b.py"}})
    once = path.read_text("utf-8")
    assert 'msgid "pump"\nmsgstr "Pumpe"' in once
    assert 'msgid_plural "{n} hs"\nmsgstr[0] ""\nmsgstr[1] ""' in once
    assert "old" not in once
    update(path, {"pump": {"a.py"}, ("{n} h", "{n} hs"): {"b.py"}})
    assert path.read_text("utf-8") == once

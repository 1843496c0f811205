"""The catalogues are whole: every text, with the same places, in the other language too.

``make words`` brings them up to date with the code; what it lists then must be translated.
"""

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po

import parchd.words
from parchd.testing.german import english_in
from parchd.testing.mails import sample_mails
from parchd.words import DateStyle, Voice, languages
from parchd.words.catalogues import SOURCE
from parchd.words.gather import in_the_code

OTHERS = [language for language in languages() if language != SOURCE]
_PLACE = re.compile(r"\{[^{}]*\}")


def read(language: str) -> Catalog:
    with (Path(parchd.words.__file__).parent / f"{language}.po").open("rb") as source:
        return read_po(source)


def messages() -> Iterator[tuple[str, Message]]:
    for language in OTHERS:
        for message in read(language):
            if message.id:
                yield language, message


def forms(said: str | tuple[str, ...] | list[str] | None) -> list[str]:
    return [said or ""] if isinstance(said, str | None) else list(said)


@pytest.mark.parametrize("language", OTHERS)
def test_a_catalogue_has_the_texts_of_the_code_and_no_others(language: str) -> None:
    catalogue = read(language)
    assert {message.id for message in catalogue if message.id} == set(in_the_code())
    assert not catalogue.obsolete


def test_every_text_is_translated_for_certain() -> None:
    for language, message in messages():
        assert not message.fuzzy, (language, message.id)
        assert all(forms(message.string)), (language, message.id)


def test_every_translation_has_the_places_of_its_text() -> None:
    for language, message in messages():
        source = set(_PLACE.findall(forms(message.id)[-1]))
        for said in forms(message.string):
            assert set(_PLACE.findall(said)) <= source, (language, said)
        assert set(_PLACE.findall(forms(message.string)[-1])) == source, (language, message.id)


def test_every_translation_ends_as_its_text_does() -> None:
    for language, message in messages():
        for text, said in zip(forms(message.id), forms(message.string), strict=True):
            assert (text[-1] == ".") is (said[-1] == ".") or text.startswith("EEE"), (language, said)
            assert "  " not in said


def test_german_speaks_formally() -> None:
    for _, message in messages():
        for said in forms(message.string):
            assert not re.search(r"\b(du|dir|dich|dein\w*|euch|eure?\w*)\b", said, re.IGNORECASE), said


@pytest.mark.parametrize("name", sample_mails())
def test_no_english_is_left_in_a_german_message(name: str) -> None:
    notice = replace(sample_mails("de")[name], answers=())
    assert english_in(notice) == ""
    assert english_in(sample_mails("en")[name])


def test_german_dates_and_numbers_are_written_the_german_way() -> None:
    voice = Voice("de", time_zone="Europe/Berlin")
    assert voice.local(1_780_000_000_000_000) == "Do., 28. Mai 2026, 22:26"
    assert voice.moment(1_780_000_000_000_000) == "Do., 28. Mai, 22:26"
    assert Voice("de", date_style=DateStyle.ISO).local(1_780_000_000_000_000) == "2026-05-28 20:26"
    assert voice.tension(62.43, 1) == "62,4 kPa"
    assert voice.listing(["a", "b", "c"]) == "a, b und c"
    assert [voice.duration(hours) for hours in (0.5, 5.26, 120.0)] == ["30 min", "5,3 h", "5 Tage"]

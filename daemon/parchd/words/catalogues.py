"""The catalogues of translations: ``.po`` files beside this module, read when a language is spoken first."""

import io
from functools import cache
from gettext import GNUTranslations, NullTranslations
from importlib.resources import files

SOURCE = "en"
"""The language that the texts in the code are written in; it has no catalogue."""


@cache
def languages() -> tuple[str, ...]:
    """All languages that can be spoken, as they stand in the configuration.

    >>> languages()
    ('en', 'de')
    """
    names = (entry.name for entry in files(__package__).iterdir())
    return SOURCE, *sorted(name.removesuffix(".po") for name in names if name.endswith(".po"))


@cache
def catalogue(language: str) -> NullTranslations:
    """The translations into a language; the source language and one that is not known leave texts as they are."""
    if language == SOURCE or language not in languages():
        return NullTranslations()
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    compiled = io.BytesIO()
    with files(__package__).joinpath(f"{language}.po").open("rb") as source:
        write_mo(compiled, read_po(source, locale=language))
    compiled.seek(0)
    return GNUTranslations(compiled)

"""Bring the catalogues up to date with the texts in the code: ``python -m parchd.words.gather``.

A text is what stands as a literal in ``text(...)``, ``noted(...)``, ``say(...)``, ``say_n(...)``, in a ``Fact``
and in tables of words. A text that is put together with an f-string could not be translated and is refused.
"""

import ast
from collections.abc import Iterable, Iterator, Sequence
from importlib.util import find_spec
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po

from parchd.words.catalogues import SOURCE, languages

HERE = Path(__file__).parent
CORE = HERE.parent
SPEAKING = ("alarms", "app", "contract", "diagnosis", "people", "store", "web", "words")
"""The packages of the core that speak to people in their language; the others speak English."""
CALLS = {"text": 1, "noted": 1, "say": 1, "Fact": 2}
"""How many arguments of a call may be texts; the two of ``say_n`` are one text in its two numbers."""
TABLES = ("EventWords", "FaultWords", "FindingWords")
"""Classes whose arguments are texts, also within tuples."""

_HEADER = """\
msgid ""
msgstr ""
"Language: {language}\\n"
"Content-Type: text/plain; charset=utf-8\\n"
"Content-Transfer-Encoding: 8bit\\n"
"Plural-Forms: {plurals}\\n"

"""

Found = dict[str | tuple[str, str], set[str]]
"""Texts, a pair for one with a plural, and the files they stand in."""


def gather(folders: Iterable[Path], root: Path) -> Found:
    """Find all texts.

    Raises:
        ValueError: a text is put together; the message names file and line.
    """
    found: Found = {}
    for path in sorted(path for folder in folders for path in folder.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call):
                where = path.relative_to(root).as_posix()
                for key in _keys(node, f"{where}:{node.lineno}"):
                    found.setdefault(key, set()).add(where)
    return found


def in_the_code() -> Found:
    """All texts of the daemon and of the mails; the code is read, not run."""
    found = gather((CORE / name for name in SPEAKING), CORE.parent)
    adapters = find_spec("parchd_adapters")
    for folder in (adapters and adapters.submodule_search_locations) or ():
        for key, files in gather([Path(folder) / "email"], Path(folder).parent).items():
            found.setdefault(key, set()).update(files)
    return {key: files for key, files in found.items() if key}


def update(path: Path, found: Found) -> Catalog:
    """Bring one catalogue up to date: new texts are empty, texts that are gone are dropped."""
    template = Catalog()
    for key in sorted(found, key=lambda key: (min(found[key]), str(key))):
        template.add(key, locations=[(file, 0) for file in sorted(found[key])])
    with path.open("rb") as source:
        catalog = read_po(source, locale=path.stem)
    catalog.update(template, no_fuzzy_matching=True)
    catalog.obsolete.clear()
    with path.open("wb") as target:
        target.write(_HEADER.format(language=path.stem, plurals=catalog.plural_forms).encode())
        write_po(target, catalog, width=110, include_lineno=False, omit_header=True)
    return catalog


def main() -> None:
    found = in_the_code()
    for language in languages():
        if language != SOURCE:
            catalog = update(HERE / f"{language}.po", found)
            empty = [message.id for message in catalog if message.id and not _is_whole(message.string)]
            print(f"{language}: {len(found)} texts, {len(empty)} of them not translated")
            for one in empty:
                print(f"  {one}")


def _name(function: ast.expr) -> str:
    match function:
        case ast.Name(id=name) | ast.Attribute(attr=name):
            return name
        case _:
            return ""


def _keys(call: ast.Call, where: str) -> Iterator[str | tuple[str, str]]:
    name = _name(call.func)
    if name == "say_n":
        one, many = (_literals(argument, where) for argument in call.args[:2])
        yield from zip(one, many, strict=True)
    for argument in call.args[: None if name in TABLES else CALLS.get(name, 0)]:
        yield from _literals(argument, where)


def _literals(node: ast.expr, where: str) -> list[str]:
    """The literals that an argument can be; one that is looked up elsewhere has none."""
    match node:
        case ast.Constant(value=str(value)):
            return [value]
        case ast.IfExp(body=body, orelse=orelse):
            return _literals(body, where) + _literals(orelse, where)
        case ast.Tuple(elts=elements):
            return [literal for element in elements for literal in _literals(element, where)]
        case ast.JoinedStr() | ast.BinOp(left=ast.Constant(value=str())):
            raise ValueError(f"{where}: a text that is put together cannot be translated: give its parts names")
        case _:
            return []


def _is_whole(said: str | Sequence[str] | None) -> bool:
    return bool(said) if isinstance(said, str) else bool(said) and all(said or ())


if __name__ == "__main__":
    main()

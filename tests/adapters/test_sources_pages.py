"""The pages of our sources say what the code does."""

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from parchd_adapters.replay import KIND as REPLAY
from parchd_adapters.serial_lines import KIND as SERIAL_LINES
from parchd_adapters.serial_lines import decoder, records
from parchd_adapters.sim import KIND as SIM
from parchd_adapters.sim.options import Fault, Tensiometer, Watering
from parchd_adapters.sim.transducer import Transducer

PAGES = Path(__file__).parents[2] / "adapters/docs"
KINDS: dict[str, type[BaseModel]] = {
    "serial-lines": SERIAL_LINES.options,
    "replay": REPLAY.options,
    "sim": SIM.options,
}
NESTED: list[type[BaseModel]] = [Tensiometer, Transducer, Fault, Watering]


def page(name: str) -> str:
    return (PAGES / f"{name}.md").read_text("utf-8")


def examples(name: str) -> Iterator[dict[str, Any]]:
    for block in re.findall(r"```toml\n(.*?)```", page(name), flags=re.DOTALL):
        yield tomllib.loads(block)


def toml(value: object) -> str:
    return str(value).lower() if isinstance(value, bool) else str(getattr(value, "value", value))


@pytest.mark.parametrize("name", KINDS)
def test_every_option_is_on_the_page_with_its_default(name: str) -> None:
    for key, field in KINDS[name].model_fields.items():
        row = re.search(rf"^\| `{key}` \| (.+?) \|", page(name), flags=re.MULTILINE)
        assert row, key
        if isinstance(field.default, float | str) and not isinstance(field.default, bool):
            assert row[1].strip('`"') == str(getattr(field.default, "value", field.default)), key


@pytest.mark.parametrize("model", NESTED)
def test_every_option_of_the_simulations_parts_is_on_its_page(model: type[BaseModel]) -> None:
    for key in model.model_fields:
        assert f"`{key}`" in page("sim"), key


@pytest.mark.parametrize("name", KINDS)
def test_the_first_example_of_a_page_is_a_whole_source(name: str) -> None:
    ((_, source),) = next(examples(name))["sources"].items()
    assert source.pop("kind") == name
    KINDS[name].model_validate(source)


def test_the_formats_of_lines_are_shown_as_they_are_read() -> None:
    _, *fragments = examples("serial-lines")
    assert len(fragments) == 3
    for fragment in fragments:
        fields = fragment.get("sources", {}).get("bus1", {}).get("fields") or fragment["fields"]
        rest = {key: value for key, value in fragment.items() if key != "sources"}
        SERIAL_LINES.options.model_validate({"port": "/dev/ttyUSB0", **rest, "fields": fields})


def test_every_reason_to_throw_a_line_away_is_on_the_page() -> None:
    reasons = [
        value
        for module in (decoder, records)
        for name, value in vars(module).items()
        if name.isupper() and isinstance(value, str) and " " in value
    ]
    text = " ".join(page("serial-lines").split())
    assert len(reasons) >= 12
    assert [reason for reason in reasons if f"`{reason}`" not in text] == []


def test_the_example_of_the_model_runs(capsys: pytest.CaptureFixture[str]) -> None:
    (code,) = re.findall(r"```python\n(.*?)```", page("sim"), flags=re.DOTALL)
    exec(code, {})
    assert capsys.readouterr().out.startswith("shallow 1.")

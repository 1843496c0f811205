"""The page with all keys is what the models say."""

from pathlib import Path

from pydantic import BaseModel

from parchd.config import calibration_table, electrics, ground, model, web_table
from parchd.config.fields import TableModel
from parchd.config.reference import TABLES, reference_text

MARK = "## All keys\n\n"


def test_the_page_has_all_keys_as_the_models_have_them(examples: Path) -> None:
    """After a change: write what `reference_text` gives below "All keys" in config/README.md."""
    page = (examples / "README.md").read_text("utf-8")
    assert page.partition(MARK)[2].splitlines() == reference_text().splitlines()


def test_no_table_is_left_out() -> None:
    listed: set[type[BaseModel]] = {table for _, table, _ in TABLES}
    found = {
        value
        for module in (calibration_table, electrics, ground, model, web_table)
        for value in vars(module).values()
        if isinstance(value, type) and issubclass(value, TableModel)
    }
    assert found - listed == {TableModel, calibration_table.CalibrationFile}  # the file is described in words


def test_every_key_says_what_it_is() -> None:
    undescribed = [
        f"{table.__name__}.{key}"
        for _, table, keys in TABLES
        for key, info in table.model_fields.items()
        if not info.description and key not in ("kind", "defaults") and (key in keys or not keys)
    ]
    assert undescribed == []

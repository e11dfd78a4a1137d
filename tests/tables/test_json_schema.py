"""The JSON schema says of tables, settings and forms what their declarations say."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Any

import jsonschema
import pytest

from picklist.tables.cells import plain_text
from picklist.tables.examples import example_rows
from picklist.tables.forms_schema import FORMS
from picklist.tables.json_schema import site_schema
from picklist.tables.parse import ColumnParser
from picklist.tables.schema import SETTING_ROWS

Site = dict[str, list[dict[str, Any]]]
SETTINGS = {column.name: column for column in SETTING_ROWS}


def example_site() -> Site:
    """The example lines of the blank workbook as JSON, each setting with a value of its kind."""
    site = {
        table: [{name: plain(one) for name, one in row.items()} for row in rows]
        for table, rows in example_rows(date(2026, 11, 25)).items()
    }
    for row in site["Settings"]:
        row["value"] = plain(ColumnParser(SETTINGS[row["setting"]])(row["value"])[0])
    return site


def plain(value: Any) -> Any:
    return plain_text(value) if isinstance(value, date | datetime | time) else value


def faults(site: Site) -> list[tuple[Any, ...]]:
    checker = jsonschema.Draft202012Validator(site_schema(), format_checker=jsonschema.FormatChecker())
    return [tuple(error.path) for error in checker.iter_errors(site)]


def test_that_the_schema_is_one_and_the_example_site_fits_it() -> None:
    jsonschema.Draft202012Validator.check_schema(site_schema())
    assert faults(example_site()) == []


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("Schedule", "minutes", 0),
        ("Schedule", "minutes", "ninety"),
        ("Schedule", "day", "26/11/2026"),
        ("Schedule", "start", "7:30 am"),
        ("Schedule", "status", "waiting"),
        ("Trays", "weight lb", 61),
        ("Items", "latex", "perhaps"),
    ],
)
def test_that_a_cell_of_the_wrong_kind_does_not_fit(table: str, column: str, value: object) -> None:
    site = example_site()
    site[table][0][column] = value
    assert faults(site) == [(table, 0, column)]


def test_that_a_needed_cell_and_a_needed_table_must_be_there() -> None:
    site = example_site()
    del site["Staff"][0]["name"], site["Lots"]
    assert sorted(faults(site)) == [(), ("Staff", 0)]


@pytest.mark.parametrize(
    ("setting", "value"), [("transport", -1), ("transport", "ten"), ("clock", "13"), ("no such", "1")]
)
def test_that_a_setting_takes_a_value_of_its_kind(setting: str, value: object) -> None:
    site = example_site()
    site["Settings"][0] |= {"setting": setting, "value": value}
    assert ("Settings", 0) in faults(site)


def test_that_each_form_has_its_sheets_and_columns() -> None:
    declared = {
        form: {table.name: [c.name for c in table.columns] for table in tables} for form, tables in FORMS.items()
    }
    said = {
        form: {name: list(sheet["items"]["properties"]) for name, sheet in one["properties"].items()}
        for form, one in site_schema()["$defs"].items()
    }
    assert said == declared

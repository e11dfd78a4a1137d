"""The plan as JSON, and back, with its published schema."""

from __future__ import annotations

import io
import json
from dataclasses import fields
from functools import cache
from typing import Any

from pydantic import TypeAdapter

from picklist.model.plan import PLAN_VERSION, Plan


@cache
def _adapter() -> TypeAdapter[Plan]:
    return TypeAdapter(Plan)


def plan_to_json(plan: Plan) -> bytes:
    """The whole plan; the same plan gives the same bytes. Instants are UTC in ISO 8601.

    It is put together field by field: that of a whole region, made at once, would be in memory twice.
    """
    text = io.BytesIO()
    for one in fields(plan):
        text.write(b"," if text.tell() else b"{")
        text.write(memoryview(_adapter().dump_json(plan, include={one.name}))[1:-1])
    text.write(b"}\n")
    return text.getvalue()


def plan_from_json(text: bytes) -> Plan:
    """A plan that ``plan_to_json`` wrote. Raises ValueError (pydantic.ValidationError) for anything else."""
    plan = _adapter().validate_json(text)
    if plan.version != PLAN_VERSION:
        raise ValueError(f"a plan of version {plan.version}")
    return plan


def plan_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of ``plan.json``."""
    schema = _adapter().json_schema(mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "picklist plan"} | schema


@cache
def schema_text() -> str:
    """The schema as the file that is published; every build of this program writes the same."""
    return json.dumps(plan_schema(), indent=1, sort_keys=True) + "\n"

"""Case-cart pick lists, tray conflicts and turnaround deadlines from a surgical schedule.

As a library: ``load_folder`` reads and checks a site's folder, ``plan_day`` plans a day of it and
``build_day`` prints it as the next revision, ``compare_plans`` says what a new plan changes on each cart,
``why_thing`` and ``why_set`` explain, ``try_words`` tries changes, ``write_plan`` prints a plan into a folder,
``calibrate_site`` tells from past cases whether the risk figures come true; ``plan_tables``, ``open_table``,
``record_tables``, ``past_cases`` and ``calibration_table`` give pandas frames. Each says more in its own docstring.

Nothing is imported before it is asked for.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from picklist.documents.write_plan import write_plan
    from picklist.evening.changes import PlanChange
    from picklist.evening.compare import compare_plans
    from picklist.model.plan import Plan
    from picklist.problems import Problem, Severity
    from picklist.tasks.build import Built, Wanted, build_day, plan_day
    from picklist.tasks.calibrate import Calibrated, calibrate_site
    from picklist.tasks.errors import WrongUse
    from picklist.tasks.frames import (
        PlanTables,
        calibration_table,
        open_table,
        past_cases,
        plan_tables,
        record_tables,
    )
    from picklist.tasks.read_folder import Loaded, load_folder
    from picklist.tasks.try_out import TryAnswer, try_words
    from picklist.tasks.why import why_set
    from picklist.tasks.why_listed import why_thing

__version__ = "0.1.0"

__all__ = [
    "Built",
    "Calibrated",
    "Loaded",
    "Plan",
    "PlanChange",
    "PlanTables",
    "Problem",
    "Severity",
    "TryAnswer",
    "Wanted",
    "WrongUse",
    "__version__",
    "build_day",
    "calibrate_site",
    "calibration_table",
    "compare_plans",
    "load_folder",
    "open_table",
    "past_cases",
    "plan_day",
    "plan_tables",
    "record_tables",
    "try_words",
    "why_set",
    "why_thing",
    "write_plan",
]

_MODULES = {
    "documents.write_plan": ("write_plan",),
    "evening.changes": ("PlanChange",),
    "evening.compare": ("compare_plans",),
    "model.plan": ("Plan",),
    "problems": ("Problem", "Severity"),
    "tasks.build": ("Built", "Wanted", "build_day", "plan_day"),
    "tasks.calibrate": ("Calibrated", "calibrate_site"),
    "tasks.errors": ("WrongUse",),
    "tasks.read_folder": ("Loaded", "load_folder"),
    "tasks.frames": (
        "PlanTables",
        "calibration_table",
        "open_table",
        "past_cases",
        "plan_tables",
        "record_tables",
    ),
    "tasks.try_out": ("TryAnswer", "try_words"),
    "tasks.why": ("why_set",),
    "tasks.why_listed": ("why_thing",),
}
_HOME = {name: module for module, names in _MODULES.items() for name in names}


def __getattr__(name: str) -> object:
    """Import what is asked for."""
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found: object = getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})

"""The department as a whole: the forward run with finite machines, its worklist, and chances."""

from picklist.department.best_run import late_by_queue, run_again, run_department
from picklist.department.chance import draw_chances
from picklist.department.chance_after import ChanceAfter
from picklist.department.queue_conflicts import add_relief, queue_conflicts, say_queue_times

__all__ = [
    "ChanceAfter",
    "add_relief",
    "draw_chances",
    "late_by_queue",
    "queue_conflicts",
    "run_again",
    "run_department",
    "say_queue_times",
]

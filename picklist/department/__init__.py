"""The department as a whole: forward run with finite machines, worklist, chance."""

from picklist.department.chance import draw_chances
from picklist.department.explain import explain_set
from picklist.department.load_conflicts import add_relief, load_conflicts
from picklist.department.run import run_department

__all__ = ["add_relief", "draw_chances", "explain_set", "load_conflicts", "run_department"]

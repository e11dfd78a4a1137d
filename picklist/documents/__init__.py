"""Plans on paper: views hold finished strings, templates place them, a folder is written whole.

Use ``write_plan.write_plan`` for everything; ``plan_json`` for the plan as JSON.
"""

"""The plan of a day, composed from the engines."""

from picklist.plan.make import PlanRequest, horizon_cases, make_plan

__all__ = ["PlanRequest", "horizon_cases", "make_plan"]

"""The plan of a day, composed from the engines."""

from picklist.plan.make import OnCarts, PlanRequest, horizon_cases, make_plan

__all__ = ["OnCarts", "PlanRequest", "horizon_cases", "make_plan"]

"""The plan of a day, composed from the engines."""

from picklist.plan.make import Order, horizon_cases, make_plan

__all__ = ["Order", "horizon_cases", "make_plan"]

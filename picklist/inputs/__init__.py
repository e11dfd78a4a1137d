"""From a site's folder to the model: rows become cases, cards, sets and routes, or problems."""

from picklist.inputs.read_site import Scheduled, Standing, read_door, read_schedule, read_site, read_standing

__all__ = ["Scheduled", "Standing", "read_door", "read_schedule", "read_site", "read_standing"]

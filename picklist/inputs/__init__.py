"""From a site's folder to the model: rows become cases, cards, sets and routes, or problems."""

from picklist.inputs.read_site import read_door, read_site

__all__ = ["read_door", "read_site"]

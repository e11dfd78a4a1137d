"""Revisions of a plan, carts that are built, and the state kept between runs."""

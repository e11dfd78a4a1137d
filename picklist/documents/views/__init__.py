"""Finished strings for every sheet: all rounding, wording, order and local time; templates only place them."""

"""Measurements and the invented sites that they run on."""

"""Checks of the main job against published data and answers; README.md here lists them all with their sources."""

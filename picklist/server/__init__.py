"""The local page for people who do not use a terminal."""

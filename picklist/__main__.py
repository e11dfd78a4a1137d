"""``python -m picklist`` is the command ``picklist``."""

from picklist.cli import main

main()

"""Case-cart pick lists, tray conflicts and turnaround deadlines from a surgical schedule."""

__version__ = "0.1.0"

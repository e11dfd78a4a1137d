"""Case-cart pick lists, tray conflicts and turnaround deadlines from a surgical schedule."""

"""From a case and its cards to what its cart must hold, with the reasons."""

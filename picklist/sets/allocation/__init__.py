"""Which set serves which use, exactly: whole minutes and plain ids in, proven choice out."""

"""Decide exactly which set serves which use: whole minutes and plain ids in, a proven best choice out."""

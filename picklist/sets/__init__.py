"""Which set serves which case: walking routes, allocation, conflicts and remedies."""

"""Changes that remove a conflict: tried on the whole plan, ordered by how little they disturb."""

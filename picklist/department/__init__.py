"""The department as a whole: the forward run with finite machines, its worklist, and chance."""

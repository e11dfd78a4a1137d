"""The tests. What one reads is read then and there, in every program that it starts: no earlier run is asked."""

import os

os.environ["PICKLIST_CACHE"] = ""

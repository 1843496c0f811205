"""Quality tests: flags for readings."""

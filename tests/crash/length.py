"""How often the tests of this folder and of tests/concurrency try: seldom in each run, often on demand."""

import os

LONG = os.environ.get("PLAITLOG_TESTS_LONG") == "1"
"""Set the variable to 1 for the figures that stand for a release; they take about half an hour."""

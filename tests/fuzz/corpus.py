"""All malformed tables."""

from tests.fuzz.malformed_rows import ROWS
from tests.fuzz.malformed_text import TEXTS
from tests.fuzz.malformed_values import VALUES
from tests.fuzz.malformed_xlsx import WORKBOOKS

CORPUS = [*TEXTS, *ROWS, *VALUES, *WORKBOOKS]

"""The shell commands of the README, found by the comment line ``# NAME`` that heads each block.

``python tests/docs/readme_commands.py tests`` prints the command under ``# tests``.
"""

import re
import sys
from pathlib import Path

README = Path(__file__).parents[2] / "README.md"


def readme_command(name: str) -> str:
    """The command in the README's fenced block that starts with the line ``# name``."""
    blocks = re.findall(r"^```sh\n(.*?)^```", README.read_text(encoding="utf-8"), flags=re.S | re.M)
    for block in blocks:
        head, _, command = block.partition("\n")
        if head == f"# {name}":
            return " ".join(command.replace("\\\n", " ").split())
    raise LookupError(f"README.md has no block headed '# {name}'")


if __name__ == "__main__":
    print(readme_command(sys.argv[1]))

"""Asks one question at the prompt; on a terminal the line can be edited, and starts from a given text."""

import sys


def ask(prompt: str, start: str = "") -> str:
    """The answer, blanks at its ends taken off.

    Raises
    ------
    EOFError
        Where the input ends.
    """
    if not sys.stdin.isatty():
        sys.stderr.write(prompt)
        sys.stderr.flush()
        line = sys.stdin.readline()
        if not line:
            raise EOFError
        sys.stderr.write("\n")
        return line.strip()
    _start_from(start)
    try:
        return input(prompt).strip()
    finally:
        _start_from("")


def _start_from(text: str) -> None:
    try:
        import readline
    except ImportError:  # a system without line editing: the text is typed again
        return
    readline.set_startup_hook((lambda: readline.insert_text(text)) if text else None)

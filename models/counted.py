"""Numbers of things in words."""


def counted(number: int, noun: str) -> str:
    """1 whip, 2 whips."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"

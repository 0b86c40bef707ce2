"""Linear algebra on one thread.

Threads of a busy machine cost products this small more than they give, and wait on after each of them.
"""

from contextlib import AbstractContextManager
from functools import cache
from typing import Any

from threadpoolctl import ThreadpoolController


@cache
def _libraries() -> ThreadpoolController:
    """Looking for the libraries takes a millisecond, which a single prediction need not pay again."""
    return ThreadpoolController()


def one_thread() -> AbstractContextManager[Any]:
    limit: AbstractContextManager[Any] = _libraries().limit(limits=1)
    return limit

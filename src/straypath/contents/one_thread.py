"""Small matrices, one thread: faster than many threads waiting for each other, and repeatable."""

from __future__ import annotations

from functools import cache, wraps
from typing import TYPE_CHECKING, ParamSpec, TypeVar

from threadpoolctl import ThreadpoolController

if TYPE_CHECKING:
    from collections.abc import Callable

P = ParamSpec("P")
T = TypeVar("T")


@cache
def _controller() -> ThreadpoolController:
    # Looked up once, after numpy and scipy have loaded their libraries.
    return ThreadpoolController()


def on_one_thread(function: Callable[P, T]) -> Callable[P, T]:
    """Run a function with the linear algebra libraries held to one thread."""

    @wraps(function)
    def held(*args: P.args, **kwargs: P.kwargs) -> T:
        with _controller().limit(limits=1, user_api="blas"):
            return function(*args, **kwargs)

    return held

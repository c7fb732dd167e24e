"""One thread for small matrices: a second one only waits for the first, and burns its time waiting."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def one_thread() -> Iterator[None]:
    """Hold matrix products to one thread within the block.

    Two libraries do them, and a limit holds only for those already loaded: that of scipy is loaded first.
    """
    import scipy.linalg.blas  # noqa: F401
    from threadpoolctl import threadpool_limits

    with threadpool_limits(1, user_api="blas"):
        yield

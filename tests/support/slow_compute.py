"""Imported by a worker under test: every computation takes long enough to be killed in the middle."""

import time

from batches.computing import rules as computing

_compute = computing.compute_distribution


def _slowly(*args, **kwargs):  # type: ignore[no-untyped-def]
    time.sleep(30)
    return _compute(*args, **kwargs)


computing.compute_distribution = _slowly

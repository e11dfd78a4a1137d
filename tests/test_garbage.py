"""The search for garbage is left out while anybody wants it so, and goes on after the last."""

from __future__ import annotations

import gc
from contextlib import suppress

from picklist.garbage import no_search_for_garbage


def test_that_two_readings_side_by_side_leave_the_search_as_they_found_it() -> None:
    """The page reads in several threads: the one that began first may be done first."""
    one, other = no_search_for_garbage(), no_search_for_garbage()
    one.__enter__()
    other.__enter__()
    one.__exit__(None, None, None)
    assert not gc.isenabled()
    other.__exit__(None, None, None)
    assert gc.isenabled()


def test_that_what_fails_inside_lets_the_search_go_on() -> None:
    with suppress(ValueError), no_search_for_garbage(), no_search_for_garbage():
        raise ValueError
    assert gc.isenabled()


def test_that_a_search_that_somebody_stopped_stays_stopped() -> None:
    gc.disable()
    try:
        with no_search_for_garbage():
            assert not gc.isenabled()
        assert not gc.isenabled()
    finally:
        gc.enable()

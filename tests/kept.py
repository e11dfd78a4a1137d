"""What takes long to make and is only looked at is made once in a run, by whichever worker asks first."""

from __future__ import annotations

import os
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

FOLDER = "PICKLIST_TESTS_KEPT"  # in the environment, for the workers of one run
Made = TypeVar("Made")


def keep(name: str, made: bytes) -> bytes:
    """Put bytes under a name, whole or not at all."""
    place = Path(os.environ[FOLDER]) / name
    fresh = place.with_name(f"{name}.{os.getpid()}.{id(made)}")
    fresh.write_bytes(made)
    fresh.replace(place)
    return made


def kept(name: str) -> bytes | None:
    """What lies under a name, if anybody has put it there."""
    try:
        return (Path(os.environ[FOLDER]) / name).read_bytes()
    except FileNotFoundError:
        return None


def made_once(name: str, make: Callable[[], Made]) -> Made:
    """What ``make`` gives, made once in a run of the tests; each worker has its own copy. For what nobody changes."""
    if FOLDER not in os.environ:  # outside a run of the tests
        return make()
    found = kept(name) or keep(name, pickle.dumps(make()))
    result: Made = pickle.loads(found)
    return result

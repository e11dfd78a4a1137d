"""What is said and kept when the program itself fails: where in the program, and nothing of the site's data."""

from __future__ import annotations

import os
import platform
import sys
import tempfile
import traceback
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from picklist import __version__

DEBUG = "PICKLIST_DEBUG"  # an environment variable: when it is set, the traceback with its message is shown too
EXIT_CODE = 70  # EX_SOFTWARE, "an internal software error", of BSD's sysexits.h
ROOT = Path(__file__).parents[1]


def report_crash(error: BaseException) -> str:
    """Write a report of a failure of the program, and say in a sentence that it happened and where the report is.

    The report holds kinds of errors and places in the program. The messages of errors and the values
    of variables could hold data of the site and are left out.
    """
    if os.environ.get(DEBUG):
        traceback.print_exception(error, file=sys.stderr)
    said = "this is a fault of picklist; what was written before is unchanged."
    text = crash_text(error)
    with suppress(OSError):
        handle, name = tempfile.mkstemp(prefix="picklist-fault-", suffix=".txt")
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
        return f"{said} Please pass on {name}: it says where it failed and holds no data of your site"
    return f"{said} Please pass this on: {_short(error)}"


def crash_text(error: BaseException) -> str:
    """The report: versions, then each error of the chain with the places it passed, the innermost last."""
    lines = [
        f"picklist {__version__}, Python {platform.python_version()}, {platform.system()} {platform.release()}",
        f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC",
    ]
    for one in _chain(error):
        lines += ["", _kind(one), *(f"  {place}" for place in _places(one))]
    return "\n".join(lines) + "\n"


def _short(error: BaseException) -> str:
    return f"{_kind(error)} in {(_places(error) or ['picklist'])[-1]}, picklist {__version__}"


def _kind(error: BaseException) -> str:
    return f"{type(error).__module__}.{type(error).__qualname__}".removeprefix("builtins.")


def _places(error: BaseException) -> list[str]:
    """File, line and function of each frame; files outside the program by their last two parts only."""
    found = []
    for frame in traceback.extract_tb(error.__traceback__):
        path = Path(frame.filename)
        name = path.relative_to(ROOT.parent).as_posix() if ROOT in path.parents else "/".join(path.parts[-2:])
        found.append(f"{name}:{frame.lineno} {frame.name}")
    return found


def _chain(error: BaseException) -> list[BaseException]:
    """The error and those that it came of, the first of them first."""
    found: list[BaseException] = []
    one: BaseException | None = error
    while one is not None and one not in found:
        found.append(one)
        one = one.__cause__ or one.__context__
    return found[::-1]

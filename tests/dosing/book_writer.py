"""Writers of a book that a test kills, starves of disk or of rights; run as a script.

``book_writer.py MODE BOOK [NUMBER]``: prints the uuid of each entry as soon as it was acknowledged,
and the sentence that ended it. Forks come from here, where no thread runs beside.
"""

from __future__ import annotations

import ctypes
import json
import os
import random
import signal
import sys
import time
from datetime import date
from pathlib import Path

from dosing.workshop.book import add
from dosing.workshop.book_file import open_book
from dosing.workshop.book_lines import Line

TODAY = date(2026, 11, 30)
PR_CAPBSET_DROP = 24
CAP_DAC_OVERRIDE = 1


def write(book: Path, count: int, out: int, who: str = "x") -> None:
    """Add entries, and acknowledge each."""
    try:
        for number in range(count):
            with open_book(book, create=True) as file:
                words = ["lot", "what=butterfly-pea", f"lot={who}-{number}", f"note={'n' * 900}"]
                entry = add(file, Line(words), TODAY).entry
            os.write(out, f"{entry.uuid}\n".encode())
    except (ValueError, OSError) as error:
        os.write(out, f"! {error}\n".encode())


def kill_often(book: Path, times: int) -> None:
    """Kill a writer at random moments; each time every acknowledged entry has to be there."""
    chance = random.Random(17)
    known: dict[Path, set[str]] = {}
    lost, unsound, torn = 0, 0, 0
    for turn in range(times):
        # A new book now and then, so that its beginning is interrupted too.
        path = book.with_name(f"{turn // 25}.sqlite")
        read, out = os.pipe()
        child = os.fork()
        if child == 0:
            write(path, 10_000, out, str(turn))
            os._exit(0)
        os.close(out)
        time.sleep(chance.uniform(0.0, 0.3))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        with os.fdopen(read) as stream:
            told = stream.read().split("\n")
        known.setdefault(path, set()).update(uuid for uuid in told[:-1] if "!" not in uuid)
        torn += path.with_name(f"{path.name}-journal").exists()
        if path.exists() or known[path]:
            with open_book(path) as file:
                lost += len(known[path] - {entry.uuid for entry in file.entries()})
                unsound += bool(file.problems())
    acknowledged = sum(map(len, known.values()))
    print(json.dumps([acknowledged, lost, unsound, torn]))


def obey_file_rights() -> None:
    """Start this script anew as a root that file rights bind like anyone; once is enough."""
    if os.environ.get("OBEYS_FILE_RIGHTS"):
        return
    # Another user would not do: this checkout may be closed to others.
    if ctypes.CDLL(None, use_errno=True).prctl(PR_CAPBSET_DROP, CAP_DAC_OVERRIDE, 0, 0, 0):
        raise OSError(ctypes.get_errno(), "root cannot give up its right to write everywhere")
    os.environ["OBEYS_FILE_RIGHTS"] = "yes"
    os.execv(sys.executable, [sys.executable, *sys.argv])


def main() -> None:
    """Run one mode."""
    mode, book = sys.argv[1], Path(sys.argv[2])
    if mode == "kill":
        kill_often(book, int(sys.argv[3]))
        return
    if mode == "small-files":
        import resource

        resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, 60_000))
    if mode == "bound" and os.getuid() == 0:
        obey_file_rights()
    write(book, int(sys.argv[3]), sys.stdout.fileno(), mode)


if __name__ == "__main__":
    main()

"""A process that gives inputs to one reader; it tells what failed on lines of JSON.

How far it is stands in memory that it shares with `campaign`: a line for each input would take
longer than many a reader takes over one.
"""

from __future__ import annotations

import fcntl
import json
import mmap
import re
import sys
import termios
import time
from pathlib import Path
from random import Random

from fuzz.mutations import mutated
from fuzz.targets import TARGETS, Target
from fuzz.watch import REFUSED, limit_memory, outcome, peak_memory, watch_files, work_folder

from greyscale.cli.app import quiet_libraries

_OF_SQLITE = ("-wal", "-shm", "-journal")
_FRAME = re.compile(r'File "([^"]+)", line (\d+)')


def content(target: Target, seed: int, index: int) -> bytes:
    """Give the input of a number, the same whenever it is asked for: the sound files first."""
    seeds = target.seeds()
    if index < len(seeds):
        return seeds[index]
    return mutated(Random(f"{target.name} {seed} {index}"), seeds, target.mutations)


def kind_of(failed: str) -> str:
    """Give what tells failures apart: the place in the program, and the error."""
    frames = [f"{Path(name).name}:{line}" for name, line in _FRAME.findall(failed)]
    own = [frame for frame in frames if not frame.startswith(("watch.py", "worker.py"))]
    lines = failed.strip().splitlines()
    return f"{lines[0][:60]} {' < '.join(own[-3:][::-1])} {lines[-1].split(':')[0][:60]}"


def tell(**what: object) -> None:
    print(json.dumps(what), flush=True)


AT, READ, SLOWEST = 0, 1, 2
"""In the shared memory: the input that is being read, how many were, the longest time of one."""


def shared(handle: int) -> memoryview:
    """Return the shared memory as numbers."""
    return memoryview(mmap.mmap(handle, 24)).cast("d")


def unread() -> int:
    """How many bytes stand in the pipe that is this process's error stream."""
    return int.from_bytes(fcntl.ioctl(2, termios.FIONREAD, bytes(4)), sys.byteorder)


def work(name: str, seed: int, first: int, last: int, seconds: float, handle: int) -> None:
    """Give the inputs from `first` up to `last` to the reader called `name`."""
    told = shared(handle)
    told[AT] = first - 1
    target = next(one for one in TARGETS if one.name == name)
    seeds = target.seeds()
    quiet_libraries()
    end = time.monotonic() + seconds
    with work_folder() as folder:
        path = Path(folder) / f"input{target.ending}"
        watch_files(path.parent)
        # What a reader imports, it imports now, so that it counts as no reader's memory.
        for index, seed_content in enumerate(seeds):
            path.write_bytes(seed_content)
            failed = outcome(target.read, path, writes=True)
            if failed is not None:
                tell(at=index, kind="a sound file is not read", text=failed)
        limit_memory(target.memory)
        noise = unread()
        for index in range(first, last):
            if time.monotonic() > end:
                last = index
                break
            told[AT] = index
            path.write_bytes(content(target, seed, index))
            start = time.process_time()
            found = outcome(target.read, path, target.writes)
            took = time.process_time() - start
            if found is None or found.startswith(REFUSED):
                told[READ] += found is None
                told[SLOWEST] = max(told[SLOWEST], took)
            else:
                tell(at=index, kind=kind_of(found), text=found)
            if unread() > noise:
                noise = unread()
                tell(at=index, kind="says something on the error stream", text="")
            others = {one.name for one in path.parent.iterdir()} - {path.name}
            # SQLite leaves what it cannot put into a damaged database.
            if others and not (target.writes and all(one.endswith(_OF_SQLITE) for one in others)):
                tell(at=index, kind="leaves files behind", text=f"leaves {sorted(others)}")
            for other in others:
                (path.parent / other).unlink()
    tell(done=last, memory=peak_memory())


if __name__ == "__main__":
    work(sys.argv[1], *map(int, sys.argv[2:5]), float(sys.argv[5]), int(sys.argv[6]))

"""Linear algebra keeps to one thread where the work is done, and is let go afterwards."""

from __future__ import annotations

import os
import subprocess
import sys

CODE = """
import numpy, scipy.linalg
from threadpoolctl import threadpool_info, threadpool_limits
from greyscale.base.libraries import on_one_thread
def counts():
    return {one["num_threads"] for one in threadpool_info() if one["user_api"] == "blas"}
with threadpool_limits(limits=2, user_api="blas"):
    before = counts()
    inside = on_one_thread(counts)()
    print(before, inside, counts())
"""


def test_one_thread_inside_and_as_before_afterwards() -> None:
    free = {key: value for key, value in os.environ.items() if "NUM_THREADS" not in key}
    done = subprocess.run(
        [sys.executable, "-c", CODE], env=free, capture_output=True, text=True, check=True
    )
    assert done.stdout.split() in (["{2}", "{1}", "{2}"], ["{1}", "{1}", "{1}"])


def test_a_library_that_comes_late_is_held_as_well() -> None:
    code = CODE.replace("import numpy, scipy.linalg", "import numpy").replace(
        "before = counts()", "before = 2"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split()[1] == "{1}"


def test_threads_that_import_at_once_leave_documentation_as_it_was() -> None:
    code = """
import inspect, threading
import greyscale.cli.app
from greyscale.base.libraries import import_scipy
original = inspect.getdoc
threads = [threading.Thread(target=import_scipy) for _ in range(4)]
for one in threads: one.start()
for one in threads: one.join()
print(inspect.getdoc is original)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["True"]

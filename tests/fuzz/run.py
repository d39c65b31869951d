"""Give every kind of reader very many bad files: `python -m tests.fuzz.run --inputs 200000`.

A file is made of a sound one by changes drawn from a seed; the same seed gives the same files. A
reader may read a file or refuse it by `BadInput`. All else is a failure: another error, more than
two seconds, more memory than it is given, a file written, a file read that it was not asked for.
The first input of each kind of failure is kept.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path


def main() -> int:
    # The modules of tests find each other as they do under pytest.
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
    from fuzz.campaign import campaign
    from fuzz.targets import TARGETS
    from fuzz.worker import content

    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--inputs", type=int, default=200_000, help="for each kind of reader")
    parser.add_argument("--seconds", type=float, default=7200, help="for all, at most")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="readers whose name holds this")
    parser.add_argument("--keep", type=Path, default=Path("/tmp/fuzz"), help="where failures go")
    given = parser.parse_args()
    chosen = [target for target in TARGETS if given.only in target.name]
    kinds = {one.kind: sum(o.share for o in chosen if o.kind == one.kind) for one in chosen}
    total, failed = 0, 0
    print(
        f"{'reader':<32}{'inputs':>9}{'read':>9}{'seconds':>9}{'slowest':>9}{'memory':>9}  failures"
    )
    for target in chosen:
        share = target.share / kinds[target.kind]
        count = max(len(target.seeds()), round(given.inputs * share))
        found = campaign(target, count, given.seed, given.seconds / len(kinds) * share)
        total += found.inputs
        failed += len(found.failures)
        counts = f"{found.inputs:>9}{found.read:>9}{found.seconds:>9.0f}"
        costs = f"{found.slowest:>7.1f} s{found.memory / 2**20:>6.0f} MB"
        print(f"{target.name:<32}{counts}{costs}  {len(found.failures)}", flush=True)
        for kind, (index, text, often) in found.failures.items():
            given.keep.mkdir(parents=True, exist_ok=True)
            name = f"{target.name.replace(', ', '-').replace(' ', '-')}-{index}"
            (given.keep / f"{name}{target.ending}").write_bytes(
                content(target, given.seed, max(index, 0))
            )
            (given.keep / f"{name}.log").write_text(text, encoding="utf-8")
            print(f"    {often:>5} times, first by input {index}: {kind}", flush=True)
    print(f"{total} inputs, {failed} kinds of failure")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())

"""What was compared, and how it came out."""

import json
import subprocess
from collections import Counter
from dataclasses import dataclass, field


@dataclass
class Report:
    overside: str
    passed: int = 0
    failed: int = 0
    explained: Counter = field(default_factory=Counter)
    faults: Counter = field(default_factory=Counter)

    def decode(self, lines: list[bytes]) -> dict[int, dict]:
        """What `overside decode` prints for these lines, by line number from 1."""
        done = subprocess.run(
            [self.overside, "decode"], input=b"\n".join(lines) + b"\n", capture_output=True, check=True
        )
        objects = (json.loads(line) for line in done.stdout.splitlines())
        return {o["line"]: o for o in objects}

    def compare(self, what: str, ours: dict, theirs: dict, explain, sentences: list[bytes]) -> None:
        """Compares the values of `theirs` with ours; `explain(key, ours, theirs)` may give a reason."""
        bad = []
        for key, value in theirs.items():
            own = ours.get(key, "no such key")
            if same(own, value):
                continue
            reason = explain(key, own, value)
            if reason:
                self.explained[f"{what} {key}: {reason}"] += 1
            else:
                bad.append(f"{key}: ours {own!r}, theirs {value!r}")
        if bad:
            self.fail(what, "; ".join(bad), sentences)
        else:
            self.passed += 1

    def differs(self, what: str, reason: str | None, detail: str, sentences: list[bytes]) -> None:
        """One of the two did not read the message at all."""
        if reason:
            self.explained[f"{what}: {reason}"] += 1
            self.passed += 1
        else:
            self.fail(what, detail, sentences)

    def fail(self, what: str, detail: str, sentences: list[bytes]) -> None:
        self.failed += 1
        kind = (what, detail.split(":")[0])
        self.faults[kind] += 1
        if self.faults[kind] <= 3:
            print(f"FAILED {what}: {detail}")
            for sentence in sentences:
                print(f"    {sentence.decode('ascii', 'backslashreplace')}")

    def finish(self) -> int:
        for (what, kind), count in sorted(self.faults.items()):
            print(f"{count:7} x FAILED {what} {kind}")
        for reason, count in sorted(self.explained.items()):
            print(f"{count:7} x {reason}")
        print(f"{self.passed} passed, {self.failed} failed")
        return 1 if self.failed else 0


def same(ours, theirs) -> bool:
    if isinstance(ours, bool) or isinstance(theirs, bool):
        return ours is theirs
    if isinstance(ours, (int, float)) and isinstance(theirs, (int, float)):
        return abs(ours - theirs) <= 1e-9 * max(1.0, abs(theirs))
    return ours == theirs

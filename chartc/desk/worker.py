"""The process that reads, counts and draws, apart from the one that answers the page.

It is started with `python -m chartc.desk.worker` and given one job after another on its
standard input; it can be ended at any moment without harm. A job and its answer are JSON, each
after its length in bytes on a line of its own.
"""

from __future__ import annotations

import base64
import json
import os
import sys
from collections.abc import Callable
from typing import Any, BinaryIO

MEMORY = 2_000_000_000  # bytes a worker may take, where the system can hold it to that

Job = Callable[[dict[str, Any]], Any]


class Refused(Exception):
    """The job cannot be done; the message says why in plain words."""


def _count(given: dict[str, Any]) -> Any:
    from chartc.desk.proofing import count_data

    return count_data(given["text"], given.get("terms", ""))


def _proof(given: dict[str, Any]) -> Any:
    from chartc.desk.proofing import finding_data

    return finding_data(given["text"], given.get("terms", ""))


def _chart(given: dict[str, Any]) -> Any:
    from chartc.desk.picturing import ChartWish, chart_data

    return chart_data(given["text"], ChartWish.of(given.get("wish", {})), given.get("terms", ""))


def _export(given: dict[str, Any]) -> Any:
    from chartc.desk.exports import CannotMake, make

    try:
        made = make(given["kind"], given["text"], given.get("wish", {}), given.get("name", ""),
                    given.get("terms", ""))  # fmt: skip
    except CannotMake as reason:
        raise Refused(str(reason)) from None
    return {
        "name": made.name,
        "type": made.media_type,
        "data": base64.b64encode(made.data).decode("ascii"),
    }


def _compare(given: dict[str, Any]) -> Any:
    from chartc.desk.comparing import compare

    return compare(given["text"], given["other"], given.get("terms", ""))


def _take(given: dict[str, Any]) -> Any:
    from chartc.desk.taking import CannotTake, take

    try:
        return take(given["text"], given.get("name", ""))
    except CannotTake as reason:
        raise Refused(str(reason)) from None


JOBS: dict[str, Job] = {
    "count": _count, "proof": _proof, "chart": _chart, "export": _export, "compare": _compare, "take": _take,
}  # fmt: skip


def answer(kind: str, given: dict[str, Any]) -> dict[str, Any]:
    """Do one job. What goes wrong inside chartc comes back as `failed`, named but without the
    text of anyone's pattern."""
    try:
        return {"done": JOBS[kind](given)}
    except Refused as reason:
        return {"refused": str(reason)}
    except MemoryError:
        return {"refused": "this takes more memory than the desk may use"}
    except RecursionError:
        return {"refused": "brackets and stars are nested too deeply to be worked out"}
    except Exception as error:
        # A fault of our own: the page says so and goes on; the terminal shows where.
        import traceback

        traceback.print_exc()
        return {"failed": type(error).__name__}


def read_message(stream: BinaryIO) -> dict[str, Any] | None:
    """The next message, None at the end of the stream."""
    head = stream.readline()
    if not head:
        return None
    size = int(head)
    body = b""
    while len(body) < size:
        part = stream.read(size - len(body))
        if not part:
            return None
        body += part
    message: dict[str, Any] = json.loads(body)
    return message


def packed(message: dict[str, Any]) -> bytes:
    """A message as it goes over the wire."""
    body = json.dumps(message, separators=(",", ":")).encode("utf-8")
    return b"%d\n%s" % (len(body), body)


def _hold_back() -> None:
    """Limit the memory of this process, where the system knows how."""
    try:
        import resource
    except ImportError:  # not on Windows
        return
    soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    most = MEMORY if hard == resource.RLIM_INFINITY else min(MEMORY, hard)
    if soft == resource.RLIM_INFINITY or soft > most:
        resource.setrlimit(resource.RLIMIT_AS, (most, hard))


def main() -> int:
    jobs = sys.stdin.buffer
    # Nothing but answers may go out on standard output, whatever a library prints.
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    _hold_back()
    while True:
        try:
            job = read_message(jobs)
        except KeyboardInterrupt:
            return 0
        if job is None:
            return 0
        try:
            reply = answer(job["kind"], job["given"])
            reply["id"] = job["id"]
            answers.write(packed(reply))
            answers.flush()
        except (BrokenPipeError, KeyboardInterrupt):
            return 0


if __name__ == "__main__":
    sys.exit(main())

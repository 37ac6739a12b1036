"""Work given to worker processes: the newest text wins, and nothing runs for ever."""

from __future__ import annotations

import asyncio
import json
import os
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from chartc.desk.limits import PATIENCE, TIMES
from chartc.desk.worker import packed

MOST_WAITING = 64
_ORDER = {"count": 0, "chart": 1, "proof": 1, "take": 2, "compare": 3, "export": 4}


class Superseded(Exception):
    """A newer text has come; this job is no longer wanted."""


class TookTooLong(Exception):
    """The job was ended because it passed its time."""


class Stopped(Exception):
    """The worker ended by itself, or the desk is closing."""


class TooBusy(Exception):
    """More jobs wait than are allowed."""


@dataclass(eq=False)
class _Job:
    lane: tuple[str, str]
    kind: str
    given: dict[str, Any]
    number: int
    answer: asyncio.Future[dict[str, Any]]
    begun: float = 0.0
    ended_by: type[Exception] | None = None


@dataclass(eq=False)
class Bench:
    """One worker process and the jobs that wait for it.

    A lane is a page and a kind of job: of one lane only the newest job is kept.
    """

    _waiting: dict[tuple[str, str], _Job] = field(default_factory=dict)
    _process: asyncio.subprocess.Process | None = None
    _now: _Job | None = None
    _bell: asyncio.Event = field(default_factory=asyncio.Event)
    _loop: asyncio.Task[None] | None = None
    _number: int = 0
    _closing: bool = False

    async def do(self, page: str, kind: str, given: dict[str, Any]) -> dict[str, Any]:
        """The worker's answer. Raises Superseded, TookTooLong, Stopped or TooBusy."""
        if self._closing:
            raise Stopped
        lane = (page, kind)
        older = self._waiting.pop(lane, None)
        if older is not None and not older.answer.done():
            older.answer.set_exception(Superseded())
        if len(self._waiting) >= MOST_WAITING:
            raise TooBusy
        self._number += 1
        job = _Job(lane, kind, given, self._number, asyncio.get_running_loop().create_future())
        self._waiting[lane] = job
        self._bell.set()
        if self._loop is None:
            self._loop = asyncio.create_task(self._run())
        self._hurry()
        try:
            return await job.answer
        except asyncio.CancelledError:
            # The page has gone or has given up waiting.
            if self._waiting.get(lane) is job:
                del self._waiting[lane]
            if self._now is job:
                self._end(job, Superseded)
            raise

    def _outdated(self, job: _Job) -> bool:
        """Whether a newer text of the same page waits. A chart waiting does not outdate the
        count of its own text."""
        page = job.lane[0]
        kinds = ("count", "chart") if job.kind == "chart" else (job.kind,)
        return any((page, kind) in self._waiting for kind in kinds)

    def _hurry(self) -> None:
        """See to it that what is at work now makes way for newer work."""
        now = self._now
        if now is None or not self._outdated(now):
            return
        left = now.begun + PATIENCE - time.monotonic()
        asyncio.get_running_loop().call_later(max(0.0, left), self._end, now, Superseded)

    def _end(self, job: _Job, why: type[Exception]) -> None:
        if self._now is not job or job.ended_by is not None:
            return
        if why is Superseded and not self._outdated(job) and not job.answer.cancelled():
            return
        job.ended_by = why
        if self._process is not None and self._process.returncode is None:
            self._process.kill()

    async def _run(self) -> None:
        while not self._closing:
            if not self._waiting:
                self._bell.clear()
                await self._bell.wait()
                continue
            lane = min(self._waiting, key=lambda one: (_ORDER[one[1]], self._waiting[one].number))
            job = self._waiting.pop(lane)
            if job.answer.done():
                continue
            try:
                reply = await self._work(job)
            except Exception as error:
                if not job.answer.done():
                    job.answer.set_exception(error)
            else:
                if not job.answer.done():
                    job.answer.set_result(reply)

    async def _work(self, job: _Job) -> dict[str, Any]:
        process = await self._started()
        assert process.stdin is not None and process.stdout is not None
        job.begun = time.monotonic()
        self._now = job
        limit = asyncio.get_running_loop().call_later(
            TIMES[job.kind], self._end, job, TookTooLong
        )
        self._hurry()
        try:
            process.stdin.write(
                packed({"id": job.number, "kind": job.kind, "given": job.given})
            )
            await process.stdin.drain()
            head = await process.stdout.readline()
            if not head:
                raise Stopped
            reply: dict[str, Any] = json.loads(await process.stdout.readexactly(int(head)))
            return reply
        except (OSError, asyncio.IncompleteReadError, ValueError, Stopped):
            await self._put_away()
            raise (job.ended_by or Stopped) from None
        finally:
            limit.cancel()
            self._now = None
            if job.ended_by is not None:
                await self._put_away()

    async def _started(self) -> asyncio.subprocess.Process:
        process = self._process
        if process is not None and process.returncode is None:
            return process
        import chartc

        home = str(Path(chartc.__file__).resolve().parent.parent)
        paths = [home, *os.environ.get("PYTHONPATH", "").split(os.pathsep)]
        environment = dict(os.environ, PYTHONPATH=os.pathsep.join(p for p in paths if p))
        # -P: nothing is imported from the folder the desk was started in.
        self._process = await asyncio.create_subprocess_exec(
            sys.executable, "-P", "-m", "chartc.desk.worker",
            stdin=asyncio.subprocess.PIPE, stdout=asyncio.subprocess.PIPE,
            env=environment, start_new_session=True,
        )  # fmt: skip
        return self._process

    async def warm(self, *kinds: str) -> None:
        """Start the worker and have it load what it needs, before the first text comes."""
        for kind in kinds:
            await self.do("", kind, {"text": ""})

    async def _put_away(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        if process.returncode is None:
            process.kill()
        await process.wait()

    async def close(self) -> None:
        """End the worker; jobs that wait come back as Stopped."""
        self._closing = True
        waiting = [*self._waiting.values(), *([self._now] if self._now else [])]
        if self._loop is not None:
            self._loop.cancel()
            await asyncio.gather(self._loop, return_exceptions=True)
        for job in waiting:
            if not job.answer.done():
                job.answer.set_exception(Stopped())
        self._waiting.clear()
        await self._put_away()

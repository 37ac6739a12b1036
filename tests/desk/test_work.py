"""The worker: the newest text wins, long work is ended, and the next text is answered."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Awaitable, Callable
from typing import Any

import pytest

from chartc.desk import work
from chartc.desk.work import Bench, Stopped, Superseded, TooBusy, TookTooLong

TEXT = "Cowl\n\nCast on 6 sts.\nRow 1: K3, yo, k3.\n"


def with_bench(act: Callable[[Bench], Awaitable[None]]) -> None:
    async def run() -> None:
        bench = Bench()
        try:
            await act(bench)
        finally:
            await bench.close()

    asyncio.run(asyncio.wait_for(run(), 60))


def after(reply: dict[str, Any]) -> int:
    return int(reply["done"]["lines"][-1]["rows"][0]["counts"][0][0][4])


def test_a_proof_comes_back() -> None:
    async def act(bench: Bench) -> None:
        assert after(await bench.do("p", "count", {"text": TEXT})) == 7
        assert (await bench.do("p", "chart", {"text": TEXT}))["done"]["width"] == 7

    with_bench(act)


def test_only_the_newest_of_a_page_is_worked_on() -> None:
    async def act(bench: Bench) -> None:
        await bench.do("p", "count", {"text": ""})
        texts = [TEXT.replace("yo, ", "yo, " * n) for n in range(1, 9)]
        jobs = [asyncio.create_task(bench.do("p", "count", {"text": text})) for text in texts]
        other = asyncio.create_task(bench.do("q", "count", {"text": TEXT}))
        done = await asyncio.gather(*jobs, return_exceptions=True)
        assert after(done[-1]) == 14  # type: ignore[arg-type]
        assert sum(isinstance(one, Superseded) for one in done) >= 6
        assert after(await other) == 7

    with_bench(act)


def hold_up(monkeypatch: pytest.MonkeyPatch, tmp_path: Any) -> None:
    """Workers that take ten seconds over the text "slow"."""
    (tmp_path / "sitecustomize.py").write_text(
        "import sys, time\n"
        "if 'chartc.desk.worker' in ' '.join(sys.orig_argv):\n"
        "    import chartc.desk.worker as w\n"
        "    old = w._count\n"
        "    def slow(given):\n"
        "        if given['text'] == 'slow': time.sleep(10)\n"
        "        return old(given)\n"
        "    w._count = slow\n"
        "    w.JOBS['count'] = slow\n"
        "    sys.exit(w.main())\n"
    )
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))


def test_a_newer_text_ends_long_work(monkeypatch: pytest.MonkeyPatch, tmp_path: Any) -> None:
    hold_up(monkeypatch, tmp_path)
    monkeypatch.setattr(work, "PATIENCE", 0.2)

    async def act(bench: Bench) -> None:
        await bench.do("p", "count", {"text": ""})
        slow = asyncio.create_task(bench.do("p", "count", {"text": "slow"}))
        await asyncio.sleep(0.1)
        begun = asyncio.get_running_loop().time()
        assert after(await bench.do("p", "count", {"text": TEXT})) == 7
        assert asyncio.get_running_loop().time() - begun < 8
        with pytest.raises(Superseded):
            await slow

    with_bench(act)


def test_work_that_takes_too_long_is_ended(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Any
) -> None:
    hold_up(monkeypatch, tmp_path)

    async def act(bench: Bench) -> None:
        await bench.do("p", "count", {"text": ""})
        monkeypatch.setitem(work.TIMES, "count", 0.3)
        with pytest.raises(TookTooLong):
            await bench.do("p", "count", {"text": "slow"})
        monkeypatch.setitem(work.TIMES, "count", 15.0)
        assert after(await bench.do("p", "count", {"text": TEXT})) == 7

    with_bench(act)


def test_a_worker_that_dies_is_replaced() -> None:
    async def act(bench: Bench) -> None:
        await bench.do("p", "count", {"text": ""})
        assert bench._process is not None
        bench._process.kill()
        with contextlib.suppress(Stopped):
            await bench.do("p", "count", {"text": TEXT})
        assert after(await bench.do("p", "count", {"text": TEXT})) == 7

    with_bench(act)


def test_no_more_jobs_than_allowed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(work, "MOST_WAITING", 3)

    async def act(bench: Bench) -> None:
        jobs = [
            asyncio.create_task(bench.do(f"p{n}", "count", {"text": TEXT})) for n in range(8)
        ]
        done = await asyncio.gather(*jobs, return_exceptions=True)
        assert any(isinstance(one, TooBusy) for one in done)
        assert any(isinstance(one, dict) for one in done)

    with_bench(act)


def test_closing_lets_go_of_everything() -> None:
    async def run() -> None:
        bench = Bench()
        await bench.do("p", "count", {"text": ""})
        process = bench._process
        # one at work and one that waits
        jobs = [
            asyncio.create_task(bench.do(page, "export", {"text": TEXT, "kind": "svg"}))
            for page in "pq"
        ]
        await asyncio.sleep(0.02)
        assert bench._now is not None
        await bench.close()
        for job in jobs:
            with pytest.raises(Stopped):
                await job
        with pytest.raises(Stopped):
            await bench.do("p", "count", {"text": TEXT})
        assert process is not None and process.returncode is not None

    asyncio.run(asyncio.wait_for(run(), 30))

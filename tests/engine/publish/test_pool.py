"""The worker processes: work, faults, death, time-out, and that nothing is started before it is needed."""

import asyncio
import math
import multiprocessing
import os
import time

import pytest

from engine.publish.pool import Workers, WorkFailed


@pytest.fixture
async def workers():
    pool = Workers()
    yield pool
    await pool.close()


async def test_nothing_is_started_before_the_first_work(workers):
    before = set(multiprocessing.active_children())
    assert await workers.run(math.factorial, 5) == 120
    [worker] = set(multiprocessing.active_children()) - before
    assert worker.name == "buildmoot-worker"


async def test_work_runs_in_one_other_process_that_is_used_again(workers):
    first = await workers.run(os.getpid)
    assert first != os.getpid()
    assert await workers.run(os.getpid) == first


async def test_work_that_raises_tells_its_traceback_and_the_process_stays(workers):
    process = await workers.run(os.getpid)
    with pytest.raises(WorkFailed, match="ValueError"):
        await workers.run(math.sqrt, -1)
    assert await workers.run(os.getpid) == process


async def test_work_that_takes_too_long_costs_its_process(workers):
    process = await workers.run(os.getpid)
    begun = time.perf_counter()
    with pytest.raises(TimeoutError, match=r"0\.05 seconds"):
        await workers.run(time.sleep, 30, timeout=0.05)
    assert time.perf_counter() - begun < 10
    assert await workers.run(os.getpid) != process


async def test_a_process_that_dies_is_replaced(workers):
    with pytest.raises(WorkFailed, match="ended"):
        await workers.run(os._exit, 3)
    assert await workers.run(math.factorial, 3) == 6


async def test_work_waits_for_its_turn(workers):
    results = await asyncio.gather(*(workers.run(math.factorial, number) for number in range(6)))
    assert results == [1, 1, 2, 6, 24, 120]


async def test_work_that_nobody_waits_for_any_more_ends(workers):
    process = await workers.run(os.getpid)
    task = asyncio.create_task(workers.run(time.sleep, 60))
    await asyncio.sleep(0.05)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    assert await workers.run(os.getpid) != process


async def test_closing_ends_the_processes_and_new_work_starts_new_ones():
    pool = Workers(2)
    first = await pool.run(os.getpid)
    await pool.close()
    with pytest.raises(ProcessLookupError):
        os.kill(first, 0)
    assert await pool.run(os.getpid) != first
    await pool.close()

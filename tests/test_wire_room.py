"""Room for answers: how many questions are under way at once, so that no receive buffer loses what they bring."""

import asyncio
import time
from typing import Any

from netcheck.room import Room

MOST = 3


async def asked(room: Room, token: int, order: list[int], answered_s: float) -> None:
    await room.take(token)
    order.append(token)
    try:
        await asyncio.sleep(answered_s)
    finally:
        room.leave(token)


def test_no_more_than_there_is_room_for_and_in_the_order_of_asking() -> None:
    async def main() -> list[int]:
        room, order, under_way = Room(MOST), list[int](), list[int]()

        async def ask(token: int) -> None:
            await room.take(token)
            order.append(token)
            under_way.append(len(room._young))
            await asyncio.sleep(0.001)
            room.leave(token)

        await asyncio.gather(*map(ask, range(20)))
        assert max(under_way) == MOST
        assert not room._young
        assert not room._line
        return order

    assert asyncio.run(main()) == list(range(20))


def test_silence_does_not_keep_its_room() -> None:
    """Nine questions that nobody answers, three at a time: the last three go out once the others have aged twice."""

    async def main() -> list[float]:
        room, sent, began = Room(MOST), list[float](), time.monotonic()

        async def ask(token: int) -> None:
            await room.take(token)
            sent.append(time.monotonic() - began)
            await asyncio.sleep(1.0)
            room.leave(token)

        tasks = [asyncio.create_task(ask(token)) for token in range(9)]
        await asyncio.sleep(0.5)
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        room.close()
        return sent

    sent = asyncio.run(main())
    assert len(sent) == 9
    assert sent[2] < 0.04
    assert all(0.05 <= each < 0.09 for each in sent[3:6])
    assert all(0.1 <= each < 0.16 for each in sent[6:])


def test_whoever_is_cancelled_in_line_holds_up_nobody() -> None:
    async def main() -> list[int]:
        room, order = Room(1), list[int]()
        tasks = [asyncio.create_task(asked(room, token, order, 0.01)) for token in range(4)]
        await asyncio.sleep(0)
        tasks[1].cancel()
        tasks[2].cancel()
        results: list[Any] = await asyncio.gather(*tasks, return_exceptions=True)
        assert [isinstance(each, asyncio.CancelledError) for each in results] == [False, True, True, False]
        assert not room._young
        return order

    assert asyncio.run(main()) == [0, 3]

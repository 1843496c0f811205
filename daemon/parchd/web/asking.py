"""Asking the engine from a page: its answer comes from another thread."""

import asyncio
import contextlib
from collections.abc import Callable
from typing import TypeVar

AnswerT = TypeVar("AnswerT")
PATIENCE_S = 20.0


async def from_engine(ask: Callable[[Callable[[AnswerT], None]], None]) -> AnswerT | None:
    """Ask, and wait for what is on disk then; ``None``: it takes longer than anybody waits for a page.

    Args:
        ask: is given what the answer is to be told to, from any thread.
    """
    loop = asyncio.get_running_loop()
    answered: asyncio.Future[AnswerT] = loop.create_future()

    def settle(answer: AnswerT) -> None:
        if not answered.done():
            answered.set_result(answer)

    def take(answer: AnswerT) -> None:
        with contextlib.suppress(RuntimeError):  # the pages have been closed meanwhile
            loop.call_soon_threadsafe(settle, answer)

    ask(take)
    try:
        return await asyncio.wait_for(answered, PATIENCE_S)
    except TimeoutError:
        return None

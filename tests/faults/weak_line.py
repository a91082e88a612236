"""A weak line between phone and server: it can be slow, far, or dead, and it counts.

It does not read what it carries: connections stay open as they are, and whatever a
page, a worker or a script asks for goes the same way. The pace is shared by all
connections, each way by itself; a new connection costs one journey there and back, as
it does where phones are. Headers of the network below (TCP, IP, encryption) are not
counted, and neither is its slow beginning.
"""

from __future__ import annotations

import asyncio
import threading
from contextlib import suppress
from dataclasses import dataclass

BITS = 8
# About what one packet carries: connections take turns at this size.
TURN = 1_440


@dataclass(slots=True)
class Way:
    """One direction of the line: when it is free again, and what it has carried."""

    bits_per_second: float
    free_at: float = 0.0
    carried: int = 0

    def busy_until(self, now: float, size: int) -> float:
        """Take a place in the queue and return when the last bit has gone out."""
        self.free_at = max(now, self.free_at) + size * BITS / self.bits_per_second
        self.carried += size
        return self.free_at


class WeakLine:
    """A line in a thread of its own; `port` is where phones reach the server."""

    def __init__(
        self,
        server_port: int,
        *,
        bits_per_second: float = float("inf"),
        there_and_back: float = 0.0,
    ) -> None:
        self.server_port = server_port
        self.port = 0
        self.is_dead = False
        self.up, self.down = Way(bits_per_second), Way(bits_per_second)
        self.journey = there_and_back / 2
        self.connections = 0
        self._open: set[asyncio.StreamWriter] = set()
        self._loop = asyncio.new_event_loop()
        self._listening = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> WeakLine:
        self._thread.start()
        assert self._listening.wait(10)
        return self

    def __exit__(self, *_exc) -> None:
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(10)

    @property
    def carried(self) -> int:
        """Bytes that went over the line since it stands, both ways."""
        return self.up.carried + self.down.carried

    def die(self) -> None:
        """Break what is under way, and let nothing through from now on."""

        async def cut() -> None:
            self.is_dead = True
            for writer in self._open:
                writer.transport.abort()

        asyncio.run_coroutine_threadsafe(cut(), self._loop).result(10)

    def revive(self) -> None:
        self.is_dead = False

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        start = asyncio.start_server(self._carry, "127.0.0.1", 0, backlog=512)
        server = self._loop.run_until_complete(start)
        self.port = server.sockets[0].getsockname()[1]
        self._listening.set()
        self._loop.run_forever()
        server.close()
        left = asyncio.all_tasks(self._loop)
        for task in left:
            task.cancel()
        self._loop.run_until_complete(asyncio.gather(*left, return_exceptions=True))
        self._loop.close()

    async def _carry(self, phone, to_phone) -> None:
        if self.is_dead:
            to_phone.transport.abort()
            return
        self.connections += 1
        self._open.add(to_phone)
        to_server = None
        try:
            await asyncio.sleep(2 * self.journey)
            server, to_server = await asyncio.open_connection(
                "127.0.0.1", self.server_port
            )
            self._open.add(to_server)
            await asyncio.gather(
                self._one_way(phone, to_server, self.up),
                self._one_way(server, to_phone, self.down),
            )
        except (OSError, asyncio.CancelledError):
            to_phone.transport.abort()
        finally:
            for writer in (to_phone, to_server):
                if writer is not None:
                    self._open.discard(writer)
                    writer.close()

    async def _one_way(self, reader, writer, way: Way) -> None:
        """Carry bytes in turns with all others, each after its journey."""
        under_way: asyncio.Queue = asyncio.Queue()
        arriving = asyncio.ensure_future(self._arrive(under_way, writer))
        try:
            while turn := await reader.read(TURN):
                gone_at = way.busy_until(self._loop.time(), len(turn))
                await asyncio.sleep(gone_at - self._loop.time())
                under_way.put_nowait((gone_at + self.journey, turn))
            under_way.put_nowait((self._loop.time() + self.journey, b""))
            await arriving
        finally:
            arriving.cancel()

    async def _arrive(self, under_way: asyncio.Queue, writer) -> None:
        # Whoever no longer listens is noticed on the way back.
        with suppress(OSError):
            while True:
                at, turn = await under_way.get()
                await asyncio.sleep(at - self._loop.time())
                if not turn:
                    writer.write_eof()
                    return
                writer.write(turn)
                await writer.drain()

"""The way between phone and server, and all that may happen on it.

Every request says in its header `X-Line` what is to befall it on the way: a deed, and
after a colon a share (0 to 1) of its bytes or a time in milliseconds. The phone's own
scripts know nothing of it; the test's `fetch` writes the header.
"""

from __future__ import annotations

import asyncio
import re
import threading
from contextlib import suppress

HEAD_END = b"\r\n\r\n"
PORTAL = b"<!doctype html><title>Welcome</title><p>Please accept our terms.</p>"


def page(status: str, body: bytes = PORTAL, kind: str = "text/html") -> bytes:
    head = (
        f"HTTP/1.1 {status}\r\nContent-Type: {kind}\r\n"
        f"Content-Length: {len(body)}\r\nConnection: close\r\n\r\n"
    )
    return head.encode() + body


class Line:
    """A proxy in a thread of its own; `port` is where phones reach the server."""

    def __init__(self, server_port: int) -> None:
        self.server_port = server_port
        self.port = 0
        self.earlier_answer = page("200 OK")
        self._loop = asyncio.new_event_loop()
        self._under_way: set[asyncio.Task] = set()
        self._listening = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> Line:
        self._thread.start()
        self._listening.wait(10)
        return self

    def __exit__(self, *_exc) -> None:
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(10)

    def quiet(self) -> None:
        """Wait until nothing is under way any more that was sent before."""

        async def wait() -> None:
            while self._under_way:
                await asyncio.wait(self._under_way)

        asyncio.run_coroutine_threadsafe(wait(), self._loop).result(30)

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        start = asyncio.start_server(self._carry, "127.0.0.1", 0, backlog=512)
        server = self._loop.run_until_complete(start)
        self.port = server.sockets[0].getsockname()[1]
        self._listening.set()
        self._loop.run_forever()
        server.close()
        for task in asyncio.all_tasks(self._loop):
            task.cancel()
        self._loop.run_until_complete(asyncio.sleep(0))
        self._loop.close()

    async def _carry(self, reader, writer) -> None:
        task = asyncio.current_task()
        try:
            head = await reader.readuntil(HEAD_END)
            self._under_way.add(task)
            await self._carried(head, reader, writer)
        except (OSError, asyncio.IncompleteReadError, asyncio.CancelledError):
            writer.transport.abort()
        finally:
            self._under_way.discard(task)
            writer.close()

    async def _carried(self, head: bytes, reader, writer) -> None:
        length = re.search(rb"(?i)\r\ncontent-length: *(\d+)", head)
        body = await reader.readexactly(int(length[1])) if length else b""
        line = re.search(rb"(?i)\r\nx-line: *([^\r]*)", head)
        request = re.sub(rb"(?i)\r\nx-line:[^\r]*", b"", head) + body
        deed, _, rest = (line[1].decode() if line else "").partition(":")
        amount = float(rest or 0)
        cut = int(amount * len(request))
        if deed == "refuse":
            writer.transport.abort()
        elif deed == "portal":
            writer.write(page("200 OK"))
        elif deed == "elsewhere":
            writer.write(page("302 Found\r\nLocation: /portal/"))
        elif deed == "earlier-answer":
            writer.write(self.earlier_answer)
        elif deed == "cut-request":
            await self._send(request[:cut], cut_off=True)
            writer.transport.abort()
        elif deed == "hang-request":
            await self._hang(request[:cut], reader)
            writer.transport.abort()
        elif deed == "lose-answer":
            await self._send(request)
            writer.transport.abort()
        elif deed == "late-request":
            # The phone takes it for dead; it comes in all the same, after a while.
            writer.transport.abort()
            await asyncio.sleep(amount / 1000)
            await self._send(request)
        elif deed == "hang-answer":
            await self._send(request)
            with suppress(OSError):
                await reader.read()
        elif deed == "cut-answer":
            answer = await self._send(request)
            writer.write(answer[: int(amount * len(answer))])
            with suppress(OSError):
                await writer.drain()
            writer.transport.close() if amount < 0.5 else writer.transport.abort()
        elif deed == "bad-gateway":
            await self._send(request)
            writer.write(page("502 Bad Gateway"))
        elif deed == "twice":
            answers = await asyncio.gather(self._send(request), self._send(request))
            writer.write(answers[int(amount > 0.5)])
        else:
            await asyncio.sleep(amount / 1000 if deed == "slow" else 0)
            answer = await self._send(request)
            if answer.startswith(b"HTTP/1.1 200") and request.startswith(b"POST"):
                self.earlier_answer = answer
            writer.write(answer)
            if not answer:
                writer.transport.abort()
        with suppress(OSError):
            await writer.drain()

    async def _send(self, request: bytes, *, cut_off: bool = False) -> bytes:
        """Bring bytes to the server and return its answer, or nothing if it died."""
        try:
            reader, writer = await asyncio.open_connection(
                "127.0.0.1", self.server_port
            )
        except OSError:
            return b""
        try:
            writer.write(request)
            await writer.drain()
            if cut_off:
                # Both ends of a line: one that is closed, and one that breaks.
                writer.close() if len(request) % 2 else writer.transport.abort()
                return b""
            return await reader.read()
        except OSError:
            return b""
        finally:
            writer.close()

    async def _hang(self, request: bytes, phone: asyncio.StreamReader) -> None:
        """Bring a part to the server and nothing more, until the phone gives up."""
        with suppress(OSError):
            _reader, writer = await asyncio.open_connection(
                "127.0.0.1", self.server_port
            )
            writer.write(request)
            await writer.drain()
            await phone.read()
            writer.transport.abort()

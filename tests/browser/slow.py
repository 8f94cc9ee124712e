"""A slow connection to a page on this machine: `slow.py PORT TARGET_PORT ROUND_TRIP` carries bytes there and back."""

from __future__ import annotations

import asyncio
import contextlib
import sys


async def carry(reader, writer, delay):
    """Hand on what is read, each piece `delay` [s] after it came."""
    loop, waiting = asyncio.get_running_loop(), asyncio.Queue()

    async def hand_on():
        while True:
            due, content = await waiting.get()
            await asyncio.sleep(max(0.0, due - loop.time()))
            if not content:
                break
            writer.write(content)
            await writer.drain()

    async def take():
        content = b"begin"
        while content:
            content = await reader.read(65536)
            waiting.put_nowait((loop.time() + delay, content))

    with contextlib.suppress(OSError):
        await asyncio.gather(take(), hand_on())
    writer.close()


async def serve(port, target, round_trip):
    """Serve until the process is ended."""

    async def meet(reader, writer):
        there, back = await asyncio.open_connection("127.0.0.1", target)
        await asyncio.gather(carry(reader, back, round_trip / 2.0), carry(there, writer, round_trip / 2.0))

    server = await asyncio.start_server(meet, "127.0.0.1", port)
    print("ready", flush=True)
    await server.serve_forever()


if __name__ == "__main__":
    asyncio.run(serve(int(sys.argv[1]), int(sys.argv[2]), float(sys.argv[3])))

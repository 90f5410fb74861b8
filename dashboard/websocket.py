"""The connections to open pages, cheaper for the server: it sends a page as fifty messages and more, most of them short.

Messages of one moment leave together, as each call of the system costs more than what is in it; those that are worth
it are compressed as fast as can be.

The server has no option for either, so its own class is extended, by names that it does not promise to keep (`conn`, `loop`,
`available_extensions`). `tests/test_websocket.py` asks a server for a page as a browser does, and fails where they change.
"""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import Any, cast

from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol
from websockets.extensions import Extension
from websockets.extensions.permessage_deflate import PerMessageDeflate, ServerPerMessageDeflateFactory
from websockets.frames import Frame, Opcode
from websockets.typing import ExtensionParameter

GATHERED_S = 0.002  # how long a message may wait for others
GATHERED = 64 << 10  # bytes that wait for no others
SHORT = 300  # bytes; below, compressing takes longer than it saves
WINDOW_BITS = 12  # 4 kB of earlier messages are kept for each page that is open


class Gathering(asyncio.Transport):
    """A transport that writes at once what came within a moment, in the order in which it came."""

    def __init__(self, transport: asyncio.Transport, loop: asyncio.AbstractEventLoop) -> None:
        self._transport, self._loop = transport, loop
        self._waiting: list[bytes] = []
        self._size = 0
        self._timer: asyncio.TimerHandle | None = None

    def write(self, data: bytes | bytearray | memoryview) -> None:
        """Write soon; at once where much is waiting."""
        self._waiting.append(bytes(data))
        self._size += len(data)
        if self._size >= GATHERED:
            self._write_now()
        elif self._timer is None:
            self._timer = self._loop.call_later(GATHERED_S, self._write_now)

    def _write_now(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
        waiting, self._waiting, self._size, self._timer = self._waiting, [], 0, None
        if waiting and not self._transport.is_closing():
            self._transport.write(b"".join(waiting))

    def close(self) -> None:
        """Close once what waits is written."""
        self._write_now()
        self._transport.close()

    def is_closing(self) -> bool:
        """As of the transport below, like all that follows."""
        return self._transport.is_closing()

    def pause_reading(self) -> None:
        """As of the transport below."""
        self._transport.pause_reading()

    def resume_reading(self) -> None:
        """As of the transport below."""
        self._transport.resume_reading()

    def get_extra_info(self, name: str, default: Any = None) -> Any:
        """As of the transport below."""
        return self._transport.get_extra_info(name, default)


class LongOnly(PerMessageDeflate):
    """Compression of messages that leaves short ones as they are, as RFC 7692 (section 6) lets a sender do.

    A message in several frames is compressed however long they are: the first frame says so for all of them.
    """

    def encode(self, frame: Frame) -> Frame:
        """A frame as it is sent."""
        is_whole = frame.fin and frame.opcode is not Opcode.CONT
        return frame if is_whole and len(frame.data) < SHORT else super().encode(frame)


class LongOnlyFactory(ServerPerMessageDeflateFactory):
    """Agrees on compression with a browser as usual; what is sent to it passes through `LongOnly`."""

    def process_request_params(
        self, params: Sequence[ExtensionParameter], accepted_extensions: Sequence[Extension]
    ) -> tuple[list[ExtensionParameter], PerMessageDeflate]:
        """What to answer to a browser's offer, and how messages are compressed."""
        answer, agreed = super().process_request_params(params, accepted_extensions)
        return answer, LongOnly(
            agreed.remote_no_context_takeover,
            agreed.local_no_context_takeover,
            agreed.remote_max_window_bits,
            agreed.local_max_window_bits,
            agreed.compress_settings,
        )


class Protocol(WebSocketsSansIOProtocol):
    """The server's websockets, with messages gathered and long ones compressed."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.conn.available_extensions = [
            LongOnlyFactory(
                server_max_window_bits=WINDOW_BITS,
                client_max_window_bits=WINDOW_BITS,
                compress_settings={"level": 1, "memLevel": 5},
            )
        ]

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Called when a connection is made."""
        super().connection_made(Gathering(cast(asyncio.Transport, transport), self.loop))

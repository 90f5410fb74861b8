"""What goes over the websockets of open pages: gathered, in order, and compressed where it is worth it."""

import asyncio

import pytest
import uvicorn
from uvicorn.server import ServerState
from websockets.extensions.permessage_deflate import PerMessageDeflate
from websockets.frames import Frame, Opcode

from dashboard.websocket import GATHERED, SHORT, Gathering, LongOnlyFactory, Protocol
from tests.tools import awaited


class Wire:
    """A transport that notes what reaches it."""

    def __init__(self):
        self.written, self.is_closed = [], False

    def write(self, data):
        self.written.append(data)

    def close(self):
        self.is_closed = True

    def is_closing(self):
        return self.is_closed

    def get_extra_info(self, name, default=None):
        return default


def gathered(do, wait_s=0.02):
    """What reaches the wire of what is done with a gathering transport, and what does within some time."""

    async def run():
        wire = Wire()
        do(Gathering(wire, asyncio.get_running_loop()))
        at_once = list(wire.written)
        await asyncio.sleep(wait_s)
        return at_once, wire.written, wire.is_closed

    return awaited(run())


def test_what_is_written_in_one_moment_leaves_together_and_in_order():
    at_once, later, _ = gathered(lambda line: [line.write(part) for part in (b"a", b"b", b"c")])
    assert (at_once, later) == ([], [b"abc"])


def test_much_does_not_wait():
    much = b"x" * GATHERED
    at_once, later, _ = gathered(lambda line: [line.write(part) for part in (b"a", much, b"b")])
    assert (at_once, later) == ([b"a" + much], [b"a" + much, b"b"])


def test_what_waits_is_written_before_the_line_is_closed_and_nothing_after():
    def do(line):
        line.write(b"a")
        line.close()
        line.write(b"b")

    at_once, later, is_closed = gathered(do)
    assert (at_once, later, is_closed) == ([b"a"], [b"a"], True)


@pytest.fixture
def both_ends():
    """How the server packs frames, and how a browser that asked for it unpacks them."""
    factory = LongOnlyFactory(server_max_window_bits=12, client_max_window_bits=12)
    _, server = factory.process_request_params([("client_max_window_bits", None)], [])
    return server, PerMessageDeflate(False, False, 12, 12)


def test_only_long_messages_are_compressed_and_all_arrive(both_ends):
    server, browser = both_ends
    long = b"a long message " * 100
    said = [b"short", long, b"s" * (SHORT - 1), long, b""]
    sent = [server.encode(Frame(Opcode.BINARY, data)) for data in said]
    assert [frame.rsv1 for frame in sent] == [False, True, False, True, False]
    assert len(sent[3].data) < len(sent[1].data) < len(long) / 5
    assert [bytes(browser.decode(frame).data) for frame in sent] == said


@pytest.mark.parametrize("parts", [[b"begins short, ", b"long " * 200], [b"long " * 200, b"ends short"]])
def test_a_message_in_several_frames_arrives_whole(both_ends, parts):
    server, browser = both_ends
    first, last = Frame(Opcode.BINARY, parts[0], fin=False), Frame(Opcode.CONT, parts[1])
    sent = [server.encode(first), server.encode(last)]
    assert b"".join(bytes(browser.decode(frame).data) for frame in sent) == b"".join(parts)


def test_a_ping_is_never_compressed(both_ends):
    assert not both_ends[0].encode(Frame(Opcode.PING, b"p" * 100)).rsv1


def test_the_server_answers_a_browser_with_both():
    """Of the server's own classes the names are used that it has: with other ones this fails."""
    asks = (
        b"GET /_stcore/stream HTTP/1.1\r\nHost: 127.0.0.1\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
        b"Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n"
        b"Sec-WebSocket-Extensions: permessage-deflate; client_max_window_bits\r\n\r\n"
    )

    async def app(scope, receive, send):
        await receive()
        await send({"type": "websocket.accept"})
        for said in (b"short", b"long " * 200):
            await send({"type": "websocket.send", "bytes": said})

    async def run():
        config = uvicorn.Config(app, ws=Protocol, log_config=None)
        config.load()
        wire, server = Wire(), Protocol(config, ServerState(), {})
        server.connection_made(wire)
        server.data_received(asks)
        await asyncio.gather(*server.tasks)
        server.connection_lost(None)
        return wire.written

    (written,) = awaited(run())
    heading, said = written.split(b"\r\n\r\n", 1)
    assert b"permessage-deflate; server_max_window_bits=12; client_max_window_bits=12" in heading
    assert said.startswith(b"\x82\x05short\xc2") and len(said) < 100

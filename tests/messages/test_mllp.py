"""Frames come out whole however the stream is cut, and half a frame is never a message."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from picklist.messages.answers import LARGEST, Frames, TooLargeError, frame
from tests.patience import tries

CONTENT = st.text(alphabet="MSH|^\r\nä 1", max_size=40)


@settings(max_examples=tries(50))
@given(st.lists(CONTENT, max_size=5), st.data())
def test_that_however_a_stream_is_cut_the_same_messages_come_out(messages: list[str], data: st.DataObject) -> None:
    stream = b"".join(frame(one) for one in messages)
    frames, found, rest = Frames(), [], stream
    while rest:
        size = data.draw(st.integers(1, len(rest)))
        found += frames.feed(rest[:size])
        rest = rest[size:]
    assert found == [one.encode() for one in messages]


def test_that_bytes_outside_of_frames_are_dropped() -> None:
    assert Frames().feed(b"junk\r\n" + frame("one") + b"\n\n" + frame("two") + b"\n") == [b"one", b"two"]


def test_that_a_message_cut_off_is_none_and_the_next_one_is_whole() -> None:
    frames = Frames()
    assert frames.feed(b"\x0bMSH|half") == []
    assert frames.feed(frame("MSH|whole")) == [b"MSH|whole"]


def test_that_an_end_without_its_carriage_return_is_no_end() -> None:
    frames = Frames()
    assert frames.feed(b"\x0bone\x1c") == []
    assert frames.feed(b"\r") == [b"one"]


def test_that_a_frame_without_an_end_is_given_up() -> None:
    with pytest.raises(TooLargeError):
        Frames().feed(b"\x0b" + b"x" * (LARGEST + 1))

"""Bytes that are no JSON Lines: each refused with its line and what is wrong, the others still read."""

import io
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plaitlog.service.usecases.json_lines import Line, read_lines, write_line

LIMIT = 1_000


def lines(text: bytes, limit: int = LIMIT) -> list[Line]:
    return [line for line, _ in read_lines(io.BytesIO(text), limit)]


def refusal(text: bytes) -> str:
    (line,) = lines(text)
    assert line.refusal is not None
    return str(line.refusal)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b'{"a":NaN}', "NaN is not a number in JSON; write a number, or null"),
        (b'{"a":-Infinity}', "-Infinity is not a number in JSON"),
        (b'{"a":1,"b":2,"a":3}', "a: the key 'a' stands twice in one object; keep one of them"),
        (b'{"a":[{"b":1,"b":1}]}', "b: the key 'b' stands twice"),
        (b'{"a":"caf\xe9"}', 'byte 10 (0xE9, after \'{"a":"caf\') is not UTF-8; save the file as UTF-8'),
        (b'\xff\xfe{\x00"\x00a\x00', "byte 1 (0xFF, after '') is not UTF-8"),
        (b'{"a":[1,2', "ends before the JSON does; the line was cut off: complete it"),
        (b'{"a":"never clo', "ends before the JSON does"),
        (b'{"a":1 "b":2}', "is not JSON at column 8 ('\"b\":2}'); check quotes, commas and brackets"),
        (b"{'a':1}", "is not JSON at column 2"),
        (b'{"a":1}{"b":2}', "is not JSON at column 8"),
        (b'{"a":"\\u0000"}', "holds a character that is no text; take it out"),
        (b'{"a":["\\ud800"]}', "holds a character that is no text"),
        (b'{"\\udfff":1}', "holds a character that is no text"),
        (b"[" * 900, "ends before the JSON does"),
        (b'{"a":"' + b"x" * 1000 + b'"}', "is longer than 1 000 bytes"),
    ],
)
def test_what_is_wrong_is_said(text: bytes, said: str) -> None:
    assert said in refusal(text)


def test_depth_and_digits_without_end_are_refused() -> None:
    assert "nested too deeply" in str(lines(b"[" * 200_000, 10**6)[0].refusal)
    assert "number too long" in str(lines(b'{"a":' + b"9" * 5000 + b"}", 10**6)[0].refusal)


def test_lines_after_a_refused_one_are_read_and_numbered_as_in_the_file() -> None:
    text = b'\xef\xbb\xbf{"a":1}\r\n\r\n  \n' + b"x" * 5_000 + b"\n" + b'{"b":"\xe9"}\n{"c":3}'
    found = lines(text)
    assert [(line.number, line.data, line.refusal is None) for line in found] == [
        (1, {"a": 1}, True),
        (4, None, False),
        (5, None, False),
        (6, {"c": 3}, True),
    ]


def test_a_line_at_the_limit_is_taken_and_one_byte_more_is_not() -> None:
    at_limit = b'{"a":"' + b"x" * (LIMIT - 8) + b'"}'
    assert len(at_limit) == LIMIT
    for end in (b"", b"\n", b"\r\n"):
        assert lines(at_limit + end)[0].refusal is None
        assert lines(b" " + at_limit + end)[0].refusal is not None


def test_a_line_above_the_limit_is_never_held_in_memory() -> None:
    class Endless(io.RawIOBase):
        """A gigabyte without an end of line, made as it is read."""

        left = 10**9
        most = 0

        def readline(self, size: int | None = -1, /) -> bytes:
            assert size is not None
            assert 0 < size <= 100_000
            given = min(size, self.left)
            self.left -= given
            return b"x" * given

    stream: Any = Endless()
    ((line, done),) = read_lines(stream, LIMIT)
    assert line.refusal is not None
    assert done == 10**9


def test_bytes_done_add_up_to_the_file() -> None:
    text = b'{"a":1}\n' + b"y" * 3_000 + b'\n{"b":2}\n'
    *_, (_, done) = read_lines(io.BytesIO(text), LIMIT)
    assert done == len(text)


texts = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"))
json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | texts,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3),
    max_leaves=8,
)


@given(st.dictionaries(texts, json_values))
def test_what_is_written_is_read(record: dict[str, Any]) -> None:
    assert lines(write_line(record), 10**6) == [Line(1, record)]


@given(st.binary(max_size=300))
def test_no_bytes_break_the_reader(text: bytes) -> None:
    first, *others = text.split(b"\n")
    rows = [first.removeprefix(b"\xef\xbb\xbf"), *others]
    assert len(lines(text)) == sum(1 for row in rows if row.strip())

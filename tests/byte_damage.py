"""Files damaged by chance, for the tests of readers."""

import random

from hypothesis import strategies as st

WORDS = (b"9", b"-", b"e", b".", b"", b"nan", b"inf", b"$")
"""What a text reader may take for a number or the start of a sentence."""


@st.composite
def damaged(draw, data, words=WORDS, over=1):
    """Bytes changed, put in, taken out, doubled; the end cut off.

    Of `words` one is put in place of `over` bytes.
    """
    content = bytearray(data)
    for _ in range(draw(st.integers(1, 8))):
        at = draw(st.integers(0, max(0, len(content) - 1)))
        what = draw(st.sampled_from(["change", "word", "insert", "remove", "repeat", "truncate"]))
        if what == "change":
            content[at : at + 1] = bytes([draw(st.integers(0, 255))])
        elif what == "word":
            content[at : at + over] = draw(st.sampled_from(words))
        elif what == "insert":
            content[at:at] = draw(st.binary(max_size=12))
        elif what == "remove":
            del content[at : at + draw(st.integers(1, 60))]
        elif what == "repeat":
            content[at:at] = content[at : at + draw(st.integers(1, 200))]
        elif draw(st.booleans()):
            del content[at:]
    return bytes(content)


def harmed(data: bytes, seed: int) -> bytes:
    """Bytes of a file damaged by chance, one to eight times; the same for the same seed."""
    chance, content = random.Random(seed), bytearray(data)
    for _ in range(chance.randint(1, 8)):
        at = chance.randrange(len(content) or 1)
        what = chance.choice(["change", "change", "flip", "insert", "remove", "repeat", "truncate"])
        if what == "change":
            content[at : at + 1] = chance.randbytes(chance.choice((1, 1, 1, 4, 8)))
        elif what == "flip":
            content[at : at + 1] = bytes(
                [(content[at] if content else 0) ^ 1 << chance.randrange(8)]
            )
        elif what == "insert":
            content[at:at] = chance.randbytes(chance.randint(1, 12))
        elif what == "remove":
            del content[at : at + chance.randint(1, 60)]
        elif what == "repeat":
            content[at:at] = content[at : at + chance.randint(1, 200)]
        elif chance.random() < 0.3:
            del content[at:]
    return bytes(content)

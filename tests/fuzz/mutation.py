"""Mutations of a file: a few random injuries of the kinds that files suffer, from a seed."""

import random

TOKENS = [
    b'"', b'""', b",", b";", b"\t", b"|", b"\r\n", b"\n", b"\r", b"\n\n", b"\0", b"\xff", b"\xfe\xff",
    b"\xef\xbb\xbf", b"\xc3", b"\xe4", b"\x81", b"\x80", "½".encode(), "\u2028".encode(), b"=1+1", b"'=",
    b"@", b" \"", b"\" ", b"sep=;\n", b"NaN", b"1e309", b"-4", b"12,5", b"0.472\"", b"#N/A", b",,,,,,,,",
    b" " * 50, b"x" * 300,
]  # fmt: skip


def mutated(data: bytes, chance: random.Random, tokens: list[bytes] = TOKENS) -> bytes:
    """The data with one to six injuries."""
    found = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        place = chance.randint(0, len(found))
        end = min(len(found), place + chance.choice([1, 1, 2, 5, 20, 60]))
        match chance.randrange(7):
            case 0:
                found[place:place] = chance.choice(tokens)
            case 1:
                found[place:end] = chance.choice(tokens)
            case 2:
                del found[place:end]
            case 3:
                found[place:place] = found[place:end] * chance.choice([1, 2, 10])
            case 4 if found:
                found[min(place, len(found) - 1)] = chance.randrange(256)
            case 5:
                other = chance.randint(0, len(found))
                found[place:place] = found[other : other + 40]
            case 6 if chance.random() < 0.2:
                del found[place:]
    return bytes(found)

"""Keys that can be made away from the server. Pure but for the given randomness."""

import secrets
import time
import uuid


def uuid7() -> uuid.UUID:
    """A UUID version 7 (RFC 9562, section 5.7): 48 bits of Unix milliseconds, then
    random bits, so that keys made in a barn sort by the time they were made.
    """
    milliseconds = time.time_ns() // 1_000_000
    value = (milliseconds & (2**48 - 1)) << 80 | secrets.randbits(80)
    value = value & ~(0xF << 76) | 0x7 << 76
    value = value & ~(0x3 << 62) | 0x2 << 62
    return uuid.UUID(int=value)

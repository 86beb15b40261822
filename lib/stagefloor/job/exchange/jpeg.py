"""A photo from outside, reduced to the parts that make the picture: no place, no camera, nothing behind its end.

Markers of a JPEG stream: ITU-T T.81 (1992), table B.1; from memory.
"""

from stagefloor.core.problems import Problem

MOST_BYTES = 4_000_000
MOST_PARTS = 20_000  # a progressive photo has some dozens
MOST_PIXELS = 8000  # a side; the sheet makes at most 1600
FRAMES = {0xC0, 0xC1, 0xC2}  # baseline, extended, progressive
TABLES = {0xC4, 0xDB, 0xDD, 0xE0, 0xEE}  # Huffman, quantisation, restart interval, JFIF and colour marks
STANDALONE = {0x01, *range(0xD0, 0xD8)}
NO_PHOTO = "this is not a photo of the kind that the sheet makes (JPEG)"


def plain_jpeg(data: bytes) -> bytes:
    """The photo without comments, camera data and anything after its end; a Problem if it is none or too large."""
    if len(data) > MOST_BYTES:
        raise Problem(f"this photo has {len(data) / 1e6:.1f} MB; {MOST_BYTES / 1e6:.0f} MB are the most")
    if data[:2] != b"\xff\xd8":
        raise Problem(NO_PHOTO)
    out, at, sized = bytearray(data[:2]), 2, False
    for _ in range(MOST_PARTS):
        if data[at:at + 1] != b"\xff" or at + 2 > len(data):
            raise Problem(NO_PHOTO)
        marker = data[at + 1]
        if marker == 0xD9:
            break
        if marker == 0xFF or marker in STANDALONE:
            at += 1 if marker == 0xFF else 2
            continue
        length = int.from_bytes(data[at + 2:at + 4], "big")
        part, after = data[at:at + 2 + length], at + 2 + length
        if length < 2 or after > len(data):
            raise Problem(NO_PHOTO)
        if marker in FRAMES:
            high, wide = int.from_bytes(part[5:7], "big"), int.from_bytes(part[7:9], "big")
            if not (0 < high <= MOST_PIXELS and 0 < wide <= MOST_PIXELS):
                raise Problem(f"this photo is {wide} by {high} points; {MOST_PIXELS} a side are the most")
            sized = True
        if marker == 0xDA:  # the picture itself, up to the next marker that is no part of it
            end = after
            while True:
                end = data.find(b"\xff", end)
                if end < 0 or end + 1 >= len(data):
                    raise Problem(NO_PHOTO)
                if data[end + 1] == 0 or data[end + 1] in STANDALONE:
                    end += 2
                    continue
                break
            part, after = data[at:end], end
        if marker in FRAMES or marker in TABLES or marker == 0xDA:
            out += part
        at = after
    else:
        raise Problem(NO_PHOTO)
    if not sized:
        raise Problem(NO_PHOTO)
    return bytes(out + b"\xff\xd9")

"""Deepens the middle tones of a picture by a power, the program's one word: 1 leaves it as it is.

Seamwright starts this for each job, in a folder of its own. The facts of the job come as one JSON object on standard
input, the picture as an uncompressed TIFF beside it; one JSON object on standard output is the answer. What goes to
standard error is found in the log. Nothing but Python itself is needed.
"""

import array
import json
import struct
import sys

BLOCK = 1 << 24


def answer(code=0, **more):
    """Says what came of it, and ends: with 0 if it is done, with 1 to refuse the artwork."""
    json.dump({"protocol": 1, **more}, sys.stdout)
    sys.exit(code)


def strip(file):
    """Where the pixels begin and how many bytes they are: tags 273 and 279 (TIFF 6.0). They are one strip."""
    order, _, directory = struct.unpack("<2sHI", file.read(8))
    assert order == b"II"
    file.seek(directory)
    (count,) = struct.unpack("<H", file.read(2))
    entries = [struct.unpack("<HHII", file.read(12)) for _ in range(count)]
    values = {tag: value for tag, _, _, value in entries}
    return values[273], values[279]


def deepened(block, bits, power):
    """The same samples, each made darker by the power of its share of white."""
    white = (1 << bits) - 1
    table = [round(white * (level / white) ** power) for level in range(white + 1)]
    if bits == 8:
        return block.translate(bytes(table))
    samples = array.array("H", block)
    return array.array("H", [table[sample] for sample in samples]).tobytes()


def main():
    job, power = json.load(sys.stdin), float(sys.argv[1])
    picture = job["picture"]
    if picture["channels"] == "cmyk":
        answer(1, refuse="The picture is in CMYK, and inks are not light.", cure="Save it as RGB.")
    with open(picture["file"], "r+b") as file:
        begin, length = strip(file)
        for at in range(begin, begin + length, BLOCK):
            file.seek(at)
            block = file.read(min(BLOCK, begin + length - at))
            file.seek(at)
            file.write(deepened(block, picture["bits"], power))
    print(f"middle tones deepened by {power}", file=sys.stderr)
    answer(picture=picture["file"], remarks=[f"The middle tones are deepened by a power of {power}."])


main()

"""Hostile profiles inside good pictures."""

from __future__ import annotations

import struct

from judging import pictures
from judging.wrong import astray, marked, padded, shuffled, without
from PIL import ImageCms

from .hostile_case import DONE, EITHER, REFUSED, Case, paint, picture_case

LARGEST = 16 << 20
"""Bytes a profile may have."""


def srgb() -> bytes:
    """A profile that nothing is wrong with, without a date."""
    made = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    return marked(made, 24, bytes(12))


def entries(profile: bytes) -> range:
    """Where the tags stand in the list."""
    return range(132, 132 + 12 * struct.unpack_from(">I", profile, 128)[0], 12)


def tags(profile: bytes, at: int, number: int) -> bytes:
    """The same word at the same place of every entry: 4 is where a tag begins, 8 how long it is."""
    head = bytearray(profile)
    for entry in entries(profile):
        struct.pack_into(">I", head, entry + at, number)
    return bytes(head)


def in_png(key: str, profile: bytes, channels: int = 3) -> bytes:
    """A picture that carries it."""
    return pictures.png(paint(key, channels=channels), pictures.iccp(profile))


def profiles() -> list[Case]:
    """All of them."""
    good = srgb()
    broken = {
        "empty": b"",
        "one-byte": b"\0",
        "a-head-and-no-more": good[:128],
        "cut-in-the-list": good[:140],
        "cut-in-half": good[: len(good) // 2],
        "noise": bytes(paint("noise", 40, 40).ravel()),
        "zeros": bytes(4000),
        "text": b"<html>not a profile</html>" * 20,
        "without-its-mark": marked(good, 36, b"nope"),
        "of-links": marked(good, 12, b"link"),
        "of-names": marked(good, 12, b"nmcl"),
        "abstract": marked(good, 12, b"abst"),
        "of-class-zero": marked(good, 12, bytes(4)),
        "of-lab": marked(good, 16, b"Lab "),
        "of-ink": marked(good, 16, b"CMYK"),
        "of-no-space": marked(good, 16, b"\xff\xff\xff\xff"),
        "without-its-curves": without(good, b"rTRC", b"gTRC", b"bTRC"),
        "without-its-colours": without(good, b"rXYZ", b"gXYZ", b"bXYZ"),
        "with-tags-astray": astray(good),
        "with-tags-in-its-head": tags(good, 4, 0),
        "with-tags-of-no-length": tags(good, 8, 0),
        "with-a-list-without-end": marked(good, 128, b"\xff\xff\xff\xff"),
        "stating-more-than-it-has": marked(good, 0, b"\x7f\xff\xff\xff"),
        "of-shuffled-tables": shuffled(good),
        "over-the-limit": padded(good, LARGEST + 1),
    }
    # A list that leads in a circle, and tags as long as a number can say: some engines look only at what they need.
    doubtful = {
        "with-tags-in-a-circle": tags(good, 4, 132),
        "with-tags-that-overlap": tags(good, 4, struct.unpack_from(">I", good, 136)[0]),
        "with-endless-tags": tags(good, 8, 0xFFFFFFF0),
        "stating-no-length": marked(good, 0, bytes(4)),
        "of-version-255": marked(good, 8, b"\xff\xff\xff\xff"),
        "of-the-largest-size": padded(good, LARGEST - 1),
    }
    found = [picture_case(f"profile-{key}", REFUSED, in_png(key, profile), says="profile") for key, profile in broken.items()]
    found += [picture_case(f"profile-{key}", EITHER, in_png(key, profile)) for key, profile in doubtful.items()]
    found += [
        picture_case("profile-good", DONE, in_png("good", good), off=0),
        picture_case("profile-rgb-on-gray", REFUSED, in_png("on-gray", good, 1), says="profile"),
        picture_case("profile-gray-on-rgb", REFUSED, in_png("gray", gray()), says="profile"),
        picture_case("profile-gray-on-gray", DONE, in_png("gray-on-gray", gray(), 1), off=0),
        picture_case("profile-in-jpeg-noise", REFUSED, pictures.saved(paint("p-jpeg"), "JPEG", icc_profile=bytes(300)), says="profile"),
        picture_case("profile-in-tiff-noise", REFUSED, pictures.saved(paint("p-tiff"), "TIFF", icc_profile=b"x" * 300), says="profile"),
        picture_case("profile-in-webp-noise", REFUSED, pictures.saved(paint("p-webp"), "WEBP", icc_profile=b"x" * 300), says="profile"),
    ]
    return found


def gray() -> bytes:
    """A gray profile: the sRGB one's curve and white, said to be gray."""
    good = marked(srgb(), 16, b"GRAY")
    return good.replace(b"rTRC", b"kTRC", 1)

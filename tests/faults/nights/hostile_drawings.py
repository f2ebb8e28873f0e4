"""Hostile SVG and PDF files: what grows without end, runs in circles, reaches for other files, or is not whole."""

from __future__ import annotations

import base64
import io
import zlib
from collections.abc import Iterator

import pikepdf
from judging import pictures

from .hostile_case import DONE, EITHER, REFUSED, Case, order, paint, picture_case

SVG = b'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
SIDE = 150
"""Of 2 mm: where drawing has to be much, the blank is so large, 3543 pixels each way."""
SHADE = b'<rect width="24" height="24" fill="#3a6ea5"/>'


def svg(body: bytes | str, head: str = 'width="24" height="24"') -> bytes:
    """A drawing with this in it."""
    return SVG + head.encode() + b">" + (body if isinstance(body, bytes) else body.encode()) + b"</svg>"


def case(key: str, end: str, drawing: bytes, says: str = "", **more: object) -> Case:
    """A drawing with an order that nothing is wrong with."""
    if not more:
        return picture_case(key, end, drawing, says=says, name=b"chart.svg" if drawing[:4] != b"%PDF" else b"chart.pdf")
    name = b"chart.pdf" if drawing[:4] == b"%PDF" else b"chart.svg"
    return Case(key, end, {name: drawing, b"chart.yaml": order(**more)}, says)


def doubling(kind: str, wrap: str, times: int = 40) -> bytes:
    """Each part draws the one before twice."""
    parts = ['<g id="p0"><rect width="9" height="9"/></g>']
    for number in range(1, times):
        before = f"p{number - 1}"
        parts.append(wrap.format(id=f"p{number}", to=before))
    return svg(f"<defs>{''.join(parts)}</defs>" + kind.format(to=f"p{times - 1}"))


def entities(levels: int, times: int) -> bytes:
    names = [f'<!ENTITY e0 "<rect width=\'9\' height=\'9\'/>">']
    names += [f'<!ENTITY e{n} "{f"&e{n - 1};" * times}">' for n in range(1, levels)]
    return f"<!DOCTYPE svg [{''.join(names)}]>".encode() + svg(f"&e{levels - 1};")


def data(picture: bytes, kind: str = "png") -> str:
    return f"data:image/{kind};base64,{base64.b64encode(picture).decode()}"


def picture(href: str) -> bytes:
    return svg(f'<image width="24" height="24" xlink:href="{href}"/>')


def effect(*steps: str, region: str = "") -> bytes:
    """A rectangle with an effect of these steps."""
    return svg(f'<filter id="f" {region}>{"".join(steps)}</filter><g filter="url(#f)">{SHADE.decode()}</g>')


def grown() -> Iterator[Case]:
    """What a few bytes stand for."""
    yield case("svg-entities-by-the-billion", REFUSED, entities(12, 10))
    yield case("svg-entities-in-a-circle", REFUSED, b'<!DOCTYPE svg [<!ENTITY a "&b;"><!ENTITY b "&a;">]>' + svg("&a;"))
    yield case("svg-entity-of-a-megabyte", EITHER, f'<!DOCTYPE svg [<!ENTITY a "{"x" * (1 << 20)}">]>'.encode() + svg(f"<desc>{'&a;' * 200}</desc>" + SHADE.decode()))
    use = '<use xlink:href="#{to}"/>'
    yield case("svg-copies-of-copies", REFUSED, doubling(use, '<g id="{id}"><use xlink:href="#{to}"/><use xlink:href="#{to}"/></g>'), says="memory")
    yield case("svg-symbols-of-symbols", REFUSED, doubling(use, '<symbol id="{id}"><use xlink:href="#{to}"/><use xlink:href="#{to}"/></symbol>'), says="memory")
    tile = '<rect width="24" height="24" fill="url(#{to})"/>'
    pattern = '<pattern id="{id}" width="4" height="4" patternUnits="userSpaceOnUse">' + tile * 2 + "</pattern>"
    yield case("svg-patterns-of-patterns", REFUSED, doubling(tile, pattern), says="memory")
    mask = '<mask id="{id}"><rect width="24" height="24" mask="url(#{to})"/><rect width="24" height="24" mask="url(#{to})"/></mask>'
    yield case("svg-masks-of-masks", REFUSED, doubling('<rect width="24" height="24" mask="url(#{to})"/>', mask), says="memory")
    styled = "<style>rect{fill:url(#p)}</style>" + '<pattern id="p" width="4" height="4">' + "<path d='M0 0h9'/>" * 3000 + "</pattern>"
    yield case("svg-patterns-by-style", REFUSED, svg(styled + "<rect width='2' height='2'/>" * 3000), says="memory")
    marker = '<marker id="m">' + "<path d='M0 0h1'/>" * 1000 + "</marker>"
    yield case("svg-markers-at-every-corner", REFUSED, svg(marker + f'<path marker-mid="url(#m)" d="M0 0{"h1" * 100_000}"/>'), says="memory")
    words = f'<text id="p0" font-size="1">{"moon " * 20_000}</text>'
    yield case("svg-words-copied", REFUSED, svg(words + '<use xlink:href="#p0"/>' * 1000), says="memory")
    long = f'<path id="l" d="M0 0{"h1v1" * 200_000}"/>'
    yield case("svg-a-path-copied", REFUSED, svg(long + '<use xlink:href="#l"/>' * 2000), says="memory")
    yield case("svg-many-parts", EITHER, svg("<rect width='1' height='1'/>" * 100_000))
    yield case("svg-far-too-many-parts", REFUSED, svg("<g/>" * 4_000_000))
    yield case("svg-many-attributes", EITHER, svg("<g " + " ".join(f'a{n}="1"' for n in range(20_000)) + ">" + SHADE.decode() + "</g>"))
    for deep, end in ((200, DONE), (1000, REFUSED), (100_000, REFUSED)):
        yield case(f"svg-{deep}-groups-deep", end, svg("<g>" * deep + SHADE.decode() + "</g>" * deep))
    yield case("svg-200-clear-groups-deep", EITHER, svg('<g opacity="0.9">' * 200 + SHADE.decode() + "</g>" * 200), width=SIDE, height=SIDE)


def circles() -> Iterator[Case]:
    """What stands in itself."""
    yield case("svg-a-copy-of-itself", REFUSED, svg('<g id="a"><use xlink:href="#a"/></g>'), says="uses itself")
    yield case("svg-copies-of-one-another", REFUSED, svg('<g id="a"><use xlink:href="#b"/></g><g id="b"><use xlink:href="#a"/></g>'), says="uses itself")
    yield case("svg-a-pattern-of-itself", REFUSED, svg('<pattern id="a" width="4" height="4"><rect width="9" height="9" fill="url(#a)"/></pattern><rect width="9" height="9" fill="url(#a)"/>'))
    yield case("svg-a-mask-of-itself", REFUSED, svg('<mask id="a"><rect width="9" height="9" mask="url(#a)"/></mask><rect width="9" height="9" mask="url(#a)"/>'))
    yield case("svg-a-clip-of-itself", REFUSED, svg('<clipPath id="a" clip-path="url(#a)"><rect width="9" height="9"/></clipPath><rect width="9" height="9" clip-path="url(#a)"/>'))
    yield case("svg-a-marker-of-itself", REFUSED, svg('<marker id="a"><path d="M0 0h9v9" marker-mid="url(#a)"/></marker><path d="M0 0h9v9" marker-mid="url(#a)"/>'))
    yield case("svg-an-effect-of-itself", EITHER, svg('<filter id="f"><feImage xlink:href="#a"/></filter><g id="a" filter="url(#f)"><rect width="9" height="9"/></g>'))
    yield case("svg-gradients-in-a-circle", EITHER, svg('<linearGradient id="a" xlink:href="#b"/><linearGradient id="b" xlink:href="#a"/><rect width="24" height="24" fill="url(#a)"/>'))


def reaching() -> Iterator[Case]:
    """What lies elsewhere."""
    for what, href in {
        "beside": "../../../outside/secret.png", "on-the-disk": "file:///etc/passwd", "on-the-net": "http://localhost:1/x.png",
        "shared": "shared.png", "a-picture": "../../../outside/shared.png",
    }.items():  # fmt: skip
        yield case(f"svg-picture-{what}", REFUSED, picture(href), says="links to other files")
    yield case("svg-copy-from-elsewhere", REFUSED, svg('<use xlink:href="other.svg#a"/>' + SHADE.decode()), says="links to other files")
    yield case("svg-colour-from-elsewhere", REFUSED, svg('<rect width="24" height="24" fill="url(other.svg#a)"/>'), says="links to other files")
    yield case("svg-effect-from-elsewhere", REFUSED, effect('<feImage xlink:href="secret.png"/>'), says="links to other files")
    yield case("svg-style-from-elsewhere", REFUSED, svg("<style>@import url(secret.css);</style>" + SHADE.decode()), says="links to other files")
    yield case("svg-sheet-from-elsewhere", REFUSED, b'<?xml-stylesheet href="secret.css"?>' + svg(SHADE), says="links to other files")
    outside = b'<!DOCTYPE svg [<!ENTITY s SYSTEM "../../../outside/secret.yaml">]>'
    yield case("svg-entity-from-elsewhere", REFUSED, outside + svg("<text>&s;</text>"))
    yield case("svg-kind-from-elsewhere", DONE, b'<!DOCTYPE svg SYSTEM "../../../outside/secret.yaml">' + svg(SHADE))
    yield case("svg-link-to-click", DONE, svg(f'<a xlink:href="http://localhost:1/">{SHADE.decode()}</a>'))
    yield case("svg-with-a-script", DONE, svg(f'<script>while(1);</script><rect onload="while(1);" width="24" height="24"/>'))
    yield case("svg-with-a-script-elsewhere", DONE, svg(f'<script xlink:href="http://localhost:1/x.js"/>{SHADE.decode()}'))


def embedded() -> Iterator[Case]:
    """Pictures in drawings."""
    good = pictures.png(paint("in a drawing"))
    yield case("svg-picture", DONE, picture(data(good)))
    yield case("svg-picture-cut", REFUSED, picture(data(good[:60])), says="picture within the drawing")
    yield case("svg-picture-of-noise", REFUSED, picture(data(b"noise" * 99)), says="picture within the drawing")
    yield case("svg-drawing-in-a-drawing", REFUSED, picture(data(svg(SHADE), "svg+xml")), says="picture within the drawing")
    wide = pictures.png(paint("wide", 1, 1))
    bomb = wide[:16] + (60_000).to_bytes(4, "big") * 2 + wide[24:29] + zlib.crc32(wide[12:16] + (60_000).to_bytes(4, "big") * 2 + wide[24:29]).to_bytes(4, "big") + wide[33:]
    yield case("svg-picture-bomb", REFUSED, picture(data(bomb)), says=" MB")


def heavy() -> Iterator[Case]:
    """What takes long or much to draw."""
    large = {"width": SIDE, "height": SIDE}
    yield case("svg-huge-tile", REFUSED, svg('<pattern id="p" width="9e5" height="9e5" patternUnits="userSpaceOnUse"><path d="M0 0h9v9"/></pattern><rect width="24" height="24" fill="url(#p)"/>'), says=" MB")
    yield case("svg-tiny-tile", EITHER, svg('<pattern id="p" width="1e-6" height="1e-6" patternUnits="userSpaceOnUse"><path d="M0 0h9v9"/></pattern><rect width="24" height="24" fill="url(#p)"/>'))
    yield case("svg-tiny-dashes", EITHER, svg('<path stroke="#000" stroke-dasharray="1e-7" d="M0 0h24v24z"/>'))
    yield case("svg-endless-dashes", EITHER, svg('<path stroke="#000" stroke-dasharray="1e-3" d="M0 0h1e9v1e9z"/>'))
    yield case("svg-blurred-beyond-measure", EITHER, effect('<feGaussianBlur stdDeviation="1e9"/>'))
    yield case("svg-blurred-a-thousand-times", REFUSED, effect(*['<feGaussianBlur stdDeviation="3"/>'] * 1000), **large)
    yield case("svg-noise-of-many-octaves", REFUSED, effect('<feTurbulence baseFrequency="0.1" numOctaves="1000000"/>'), **large)
    yield case("svg-spread-beyond-measure", EITHER, effect('<feMorphology operator="dilate" radius="1e6"/>'), **large)
    yield case("svg-spread-far", EITHER, effect('<feMorphology operator="dilate" radius="5"/>'), **large)
    kernel = " ".join(["1"] * 90_000)
    yield case("svg-a-kernel-of-300", REFUSED, effect(f'<feConvolveMatrix order="300" kernelMatrix="{kernel}"/>'), **large)
    yield case("svg-an-effect-without-bounds", EITHER, effect('<feFlood/>', region='x="-1e9" y="-1e9" width="1e10" height="1e10"'))
    layers = "".join(f'<rect width="24" height="24" fill="#123" opacity="0.5" transform="rotate({n})"/>' for n in range(60_000))
    yield case("svg-covered-60000-times", REFUSED, svg(layers), **large)


def odd() -> Iterator[Case]:
    """Strange numbers, strange texts, and files that are cut off."""
    whole = svg(SHADE * 40)
    yield case("svg", DONE, whole)
    for at in (30, 90, len(whole) // 2, len(whole) - 6, len(whole) - 1):
        yield case(f"svg-cut-at-{at}", REFUSED, whole[:at])
    for what, head in {
        "no-width": 'width="0" height="24"', "a-width-below-nought": 'width="-24" height="24"',
    }.items():  # fmt: skip
        yield case(f"svg-of-{what}", REFUSED, svg(SHADE, head))
    for what, head in {
        "no-size": "", "no-view": 'viewBox="0 0 0 0"', "huge-width": 'width="1e30" height="1e30"', "tiny-width": 'width="1e-30" height="1e-30"', "a-line": 'viewBox="0 0 24 1e-6"',
        "width-nan": 'width="nan" height="24"', "shares": 'width="100%" height="1e9%"', "huge-view": 'viewBox="0 0 1e38 1e38"',
    }.items():  # fmt: skip
        yield case(f"svg-of-{what}", EITHER, svg(SHADE, head))
    for what, body in {
        "huge-places": '<path d="M-1e38 0L1e38 1e38" stroke="#000"/>', "huge-turns": '<rect width="9" height="9" transform="scale(1e30) rotate(1e30)"/>',
        "a-huge-pen": '<path d="M0 0h24" stroke="#000" stroke-width="1e30"/>', "huge-letters": '<text font-size="1e30" y="9">moon</text>',
        "a-path-of-noise": '<path d="M0 0 zzz 1 2 3 - . e"/>', "huge-arcs": '<path d="M0 0A1e30 1e-30 0 1 1 24 24"/>',
    }.items():  # fmt: skip
        yield case(f"svg-of-{what}", EITHER, svg(body + SHADE.decode()))
    yield case("svg-of-nothing", REFUSED, svg(""), says="empty")
    yield case("svg-of-what-is-hidden", REFUSED, svg(f'<g display="none">{SHADE.decode()}</g>'), says="empty")
    yield case("svg-in-latin-letters", REFUSED, b'<?xml version="1.0" encoding="ISO-8859-1"?>' + svg("<desc>ä</desc>".encode("latin-1") + SHADE), says="UTF-8")
    yield case("svg-in-wide-letters", REFUSED, svg(SHADE).decode().encode("utf-16"), says="UTF-8")
    yield case("svg-with-a-mark", DONE, b"\xef\xbb\xbf" + svg(SHADE))
    yield case("svg-behind-comments", DONE, b"<?xml version='1.0'?><!-- " + b"moon " * 900 + b"-->" + svg(SHADE))
    yield case("svg-with-a-prefix", DONE, b'<s:svg xmlns:s="http://www.w3.org/2000/svg" width="24" height="24"><s:rect width="24" height="24"/></s:svg>')
    yield case("svg-in-no-name-space", EITHER, b'<svg width="24" height="24">' + SHADE + b"</svg>")
    yield case("svg-with-a-letter-nobody-has", REFUSED, svg("<text y='20'>\U000f1234</text>"), says="U+F1234")
    yield case("svg-page-2", REFUSED, whole, says="only a PDF has pages", page=2)
    yield case("svg-as-drawn", DONE, svg(SHADE, 'width="40mm" height="30mm"'), size="as-drawn")
    yield case("svg-as-drawn-too-large", REFUSED, svg(SHADE, 'width="900in" height="30mm"'), says="larger than the design area", size="as-drawn")
    yield case("picture-as-drawn", REFUSED, pictures.png(paint("as drawn")), says="Only a drawing", size="as-drawn")


def pdf(content: bytes = b"0.2 0.4 0.6 rg 0 0 72 72 re f", pages: int = 1, media: tuple[float, ...] = (0, 0, 72, 72), **resources: object) -> pikepdf.Pdf:
    """A file of one page or several."""
    made = pikepdf.new()
    for _ in range(pages):
        page = made.add_blank_page(page_size=(72, 72))
        page.MediaBox = pikepdf.Array(list(media))
        page.Contents = made.make_stream(content)
        page.Resources = pikepdf.Dictionary(**resources)
    return made


def written(made: pikepdf.Pdf, **how: object) -> bytes:
    out = io.BytesIO()
    made.save(out, **({"static_id": True} if "encryption" not in how else {}), **how)
    return out.getvalue()


def raw(*objects: bytes, root: int = 1) -> bytes:
    """A file of these objects as they are, numbered from 1."""
    out, places = bytearray(b"%PDF-1.7\n"), []
    for number, body in enumerate(objects, 1):
        places.append(len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    start = len(out)
    out += b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1) + b"".join(b"%010d 00000 n \n" % at for at in places)
    return bytes(out) + b"trailer\n<</Size %d/Root %d 0 R>>\nstartxref\n%d\n%%%%EOF\n" % (len(objects) + 1, root, start)


def stream(body: bytes, more: bytes = b"") -> bytes:
    return b"<<%s/Length %d>>\nstream\n%s\nendstream" % (more, len(body), body)


def page_of(content: bytes, *more: bytes, resources: bytes = b"", media: bytes = b"[0 0 72 72]", packed: bytes = b"") -> bytes:
    """A file of one page; further objects are numbered from 5."""
    page = b"<</Type/Page/Parent 2 0 R/MediaBox %s/Contents 4 0 R/Resources<<%s>>>>" % (media, resources)
    return raw(b"<</Type/Catalog/Pages 2 0 R>>", b"<</Type/Pages/Count 1/Kids[3 0 R]>>", page, stream(content, packed), *more)


FILL = b"0.2 0.4 0.6 rg 0 0 72 72 re f "


def pdfs() -> Iterator[Case]:
    """Whole, locked, cut, in circles, and too much."""
    whole = written(pdf())
    yield case("pdf", DONE, whole)
    yield case("pdf-page-2", DONE, written(pdf(pages=3)), page=2)
    yield case("pdf-page-9", REFUSED, written(pdf(pages=3)), says="There is no page 9: the file has 3.", page=9)
    yield case("pdf-page-0", REFUSED, whole, says="counted from 1", page=0)
    yield case("pdf-as-drawn", DONE, whole, size="as-drawn")
    for what, owner, user in (("a-password", "o", "u"), ("restrictions", "o", "")):
        for strength in (2, 4, 6):
            locked = written(pdf(), encryption=pikepdf.Encryption(owner=owner, user=user, R=strength, aes=strength > 3, metadata=strength > 3))
            yield case(f"pdf-with-{what}-{strength}", REFUSED, locked, says="encrypted")
    yield case("pdf-of-an-empty-page", REFUSED, written(pdf(b"")), says="empty")
    yield case("pdf-of-what-is-beside-the-page", EITHER, written(pdf(b"900 900 9 9 re f")))
    yield case("pdf-of-no-pages", REFUSED, raw(b"<</Type/Catalog/Pages 2 0 R>>", b"<</Type/Pages/Count 0/Kids[]>>"))
    for part in (10, 50, 90, 99):
        yield case(f"pdf-cut-at-{part}-percent", REFUSED, whole[: len(whole) * part // 100])
    yield case("pdf-cut-and-ended", EITHER, whole[: len(whole) // 2] + b"\n%%EOF\n")
    yield case("pdf-of-a-mark-and-an-end", REFUSED, b"%PDF-1.7\n%%EOF\n")
    yield case("pdf-behind-words", EITHER, b"some words\n" + whole)
    catalog, kids = b"<</Type/Catalog/Pages 2 0 R>>", b"<</Type/Pages/Count 1/Kids[2 0 R]>>"
    yield case("pdf-pages-in-a-circle", REFUSED, raw(catalog, kids))
    yield case("pdf-pages-by-the-billion", EITHER, raw(catalog, b"<</Type/Pages/Count 1000000000/Kids[3 0 R]>>", b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 72 72]>>"))
    yield case("pdf-arrays-deep", REFUSED, raw(catalog, b"[" * 200_000 + b"]" * 200_000))
    yield case("pdf-a-form-in-itself", EITHER, page_of(FILL + b"/F Do", stream(b"/F Do", b"/Subtype/Form/BBox[0 0 72 72]/Resources<</XObject<</F 5 0 R>>>>"), resources=b"/XObject<</F 5 0 R>>"))
    forms = [stream(b"/F Do /F Do", b"/Subtype/Form/BBox[0 0 72 72]/Resources<</XObject<</F %d 0 R>>>>" % (6 + n)) for n in range(40)]
    yield case("pdf-forms-of-forms", REFUSED, page_of(FILL + b"/F Do", *forms, stream(FILL, b"/Subtype/Form/BBox[0 0 72 72]"), resources=b"/XObject<</F 5 0 R>>"), says="took longer")
    tile = b"/Type/Pattern/PatternType 1/PaintType 1/TilingType 1/BBox[0 0 72 72]"
    inner = tile + b"/XStep 72/YStep 72/Resources<</Pattern<</P 5 0 R>>>>"
    yield case("pdf-a-pattern-of-itself", EITHER, page_of(b"/Pattern cs /P scn 0 0 72 72 re f", stream(b"/Pattern cs /P scn 0 0 72 72 re f", inner), resources=b"/Pattern<</P 5 0 R>>"))
    small = b"/Type/Pattern/PatternType 1/PaintType 1/TilingType 1/BBox[0 0 1 1]/XStep 0.00001/YStep 0.00001/Resources<<>>"
    yield case("pdf-tiny-tiles", EITHER, page_of(b"/Pattern cs /P scn 0 0 72 72 re f", stream(FILL, small), resources=b"/Pattern<</P 5 0 R>>"))
    yield case("pdf-tiny-dashes", EITHER, page_of(b"[0.000001] 0 d 0 0 m 72 72 l S"))
    yield case("pdf-covered-often", EITHER, page_of(FILL * 200_000), width=SIDE, height=SIDE)
    yield case("pdf-states-deep", EITHER, page_of(b"q " * 2_000_000 + FILL))
    for what, media in {"huge": b"[0 0 1e9 1e9]", "empty": b"[0 0 0 0]", "turned-round": b"[72 72 0 0]", "far": b"[1e9 1e9 2e9 2e9]", "of-words": b"(a)"}.items():
        yield case(f"pdf-page-{what}", EITHER, page_of(FILL, media=media))
    yield from bombs()
    yield case("pdf-with-a-script", EITHER, written(with_script()))
    away = stream(b"", b"/F(../../../outside/secret.yaml)")
    yield case("pdf-content-elsewhere", EITHER, raw(catalog, b"<</Type/Pages/Count 1/Kids[3 0 R]>>", b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 72 72]/Contents 4 0 R>>", away))


def bombs() -> Iterator[Case]:
    """Parts that unpack to far more than they are."""
    blank, flate = bytes(300 << 20), b"/Filter/FlateDecode"
    bomb = zlib.compress(blank, 9)
    yield case("pdf-bomb", REFUSED, page_of(bomb, packed=flate), says="unpacked")
    yield case("pdf-bomb-twice-packed", REFUSED, page_of(zlib.compress(bomb), packed=b"/Filter[/FlateDecode/FlateDecode]"), says="unpacked")
    image = b"/Subtype/Image/ColorSpace/DeviceGray/BitsPerComponent 8/Width 60000/Height 60000"
    shown = b"72 0 0 72 0 0 cm /I Do"
    yield case("pdf-picture-bomb", REFUSED, page_of(shown, stream(bomb[:1000], image + flate), resources=b"/XObject<</I 5 0 R>>"), says=" MB")
    for kind in (b"JPXDecode", b"JBIG2Decode", b"CCITTFaxDecode", b"DCTDecode", b"RunLengthDecode", b"LZWDecode"):
        noise = paint(kind.decode()).tobytes()
        small = b"/Subtype/Image/ColorSpace/DeviceGray/BitsPerComponent 8/Width 24/Height 24/Filter/" + kind
        yield case(f"pdf-picture-of-noise-{kind.decode()[:-6].lower()}", EITHER, page_of(FILL + shown, stream(noise, small), resources=b"/XObject<</I 5 0 R>>"))


def with_script() -> pikepdf.Pdf:
    made = pdf()
    made.Root.OpenAction = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS="while(1);")
    return made


def drawings() -> list[Case]:
    """All of them."""
    return [*grown(), *circles(), *reaching(), *embedded(), *heavy(), *odd(), *pdfs()]

"""QR codes as inline SVG."""

import segno
from markupsafe import Markup


def qr_svg(url: str) -> Markup:
    """Return `url` as a QR code, dark on white whatever the page's colours."""
    code = segno.make_qr(url, error="m")
    svg = code.svg_inline(
        scale=6, border=4, dark="#000", light="#fff", svgclass="qr", lineclass=None, omitsize=True
    )
    return Markup(svg)  # noqa: S704 - segno's own drawing, the address is only in its squares

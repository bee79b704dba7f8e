"""Pictures without the words in them: place, time, device and comments taken out.

Only whole segments (JPEG, ITU-T T.81 Annex B) or chunks (PNG, W3C PNG specification, section 11)
are dropped; the picture's own bytes stay as they are. What does not follow the form is refused
rather than half cleaned. A turned camera's orientation is lost with the rest.
"""

from steplatch.safety.catalogue import _

_JPEG_START = b"\xff\xd8"
_PNG_START = b"\x89PNG\r\n\x1a\n"
_SOS = 0xDA
_EOI = 0xD9
_JPEG_DROPPED = frozenset({*range(0xE1, 0xF0), 0xFE}) - {0xE2, 0xEE}
"""APP1 to APP15 and COM, but not APP2 (colour profile) and APP14 (colour transform)."""
_JPEG_ALONE = frozenset({0x01, *range(0xD0, 0xD8)})
_PNG_DROPPED = frozenset({b"eXIf", b"tEXt", b"iTXt", b"zTXt", b"tIME"})


class NotCleanable(ValueError):  # noqa: N818 - it names the thing, as the other refusals do
    """The bytes are no picture whose metadata can be taken out; says why."""


def kind_of(data: bytes) -> str:
    """``jpeg``, ``png``, ``pdf``, ``text`` or ``other``, by the bytes alone."""
    if data.startswith(b"\xff\xd8\xff"):
        return "jpeg"
    if data.startswith(_PNG_START):
        return "png"
    if data.startswith(b"%PDF-"):
        return "pdf"
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        return "other"
    return "other" if "\0" in text else "text"


def without_metadata(data: bytes) -> bytes:
    """The picture without metadata. Raises NotCleanable."""
    kind = kind_of(data)
    if kind == "jpeg":
        return _jpeg(data)
    if kind == "png":
        return _png(data)
    raise NotCleanable(_("only JPEG and PNG pictures can be cleaned"))


def _jpeg(data: bytes) -> bytes:
    """Segments in front of the first scan are judged; every later one too, scan by scan."""
    out = bytearray(_JPEG_START)
    at = 2
    while True:
        if at + 2 > len(data) or data[at] != 0xFF:
            raise NotCleanable(_("no JPEG marker at byte {at}", at=at))
        marker = data[at + 1]
        if marker == 0xFF:  # fill byte
            at += 1
            continue
        if marker == _EOI:
            return bytes(out + data[at : at + 2])  # what is behind the end goes too
        if marker in _JPEG_ALONE:
            out += data[at : at + 2]
            at += 2
            continue
        if at + 4 > len(data):
            raise NotCleanable(_("the picture is cut off"))
        end = at + 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        if end < at + 4 or end > len(data):
            raise NotCleanable(_("a segment at byte {at} is cut off", at=at))
        if marker == _SOS:
            end = _scan_end(data, end)
        if marker not in _JPEG_DROPPED and not _foreign_app2(marker, data[at + 4 : end]):
            out += data[at:end]
        at = end


def _foreign_app2(marker: int, body: bytes) -> bool:
    """Whether an APP2 holds anything but a colour profile (further pictures, for instance)."""
    return marker == 0xE2 and not body.startswith(b"ICC_PROFILE\0")


def _scan_end(data: bytes, at: int) -> int:
    """Where the coded data of a scan end: at the first marker that is no restart or stuffing."""
    while True:
        at = data.find(b"\xff", at)
        if at < 0 or at + 1 >= len(data):
            raise NotCleanable(_("the picture has no end"))
        if data[at + 1] != 0 and data[at + 1] not in range(0xD0, 0xD8):
            return at
        at += 2


def _png(data: bytes) -> bytes:
    out = bytearray(_PNG_START)
    at = len(_PNG_START)
    while True:
        if at + 12 > len(data):
            raise NotCleanable(_("the picture has no end"))
        end = at + 12 + int.from_bytes(data[at : at + 4], "big")
        name = data[at + 4 : at + 8]
        if end > len(data):
            raise NotCleanable(_("a chunk at byte {at} is cut off", at=at))
        if name not in _PNG_DROPPED:
            out += data[at:end]
        if name == b"IEND":
            return bytes(out)
        at = end

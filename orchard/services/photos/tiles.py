"""A HEIC that is laid of tiles: read tile by tile, so that none is held whole.

Phones write one of 24 or 48 million pixels as some hundred small pictures and a row
that says how they lie. The reader decodes all of them at once; here each is made the
file's main picture in turn, decoded by itself and made smaller before the next.

References
----------
ISO/IEC 14496-12 (boxes; meta, pitm, iinf, infe, iloc, iref) and ISO/IEC 23008-12 (grid,
iprp, ipco, ipma, irot), both from memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from io import BytesIO

from PIL import Image
from PIL.Image import Transpose

# Larger tiles, or more, are no phone's.
MOST_TILES, LARGEST_TILE = 1000, 2048 * 2048
# A quarter turn is counted against the clock, as Pillow turns.
TURNS: Mapping[int, Transpose | None] = {
    0: None,
    1: Transpose.ROTATE_90,
    2: Transpose.ROTATE_180,
    3: Transpose.ROTATE_270,
}
# What may stand in a picture's properties beside its turn and changes no pixel.
PLAIN = (b"ispe", b"colr", b"pixi", b"irot", b"clli", b"mdcv", b"amve", b"pasp")


@dataclass(frozen=True, slots=True)
class Tiles:
    """Where a picture's tiles lie in its file, and how it is put together of them."""

    data: bytes
    columns: int
    rows: int
    # As it is laid, before it is turned.
    width: int
    height: int
    turn: Transpose | None
    # The number of each tile, row by row, and where its entry says that it is hidden.
    numbers: tuple[int, ...]
    hidden_at: tuple[int, ...]
    # Where the number of the main picture stands.
    main_at: slice

    @property
    def size(self) -> tuple[int, int]:
        """Return width and height of the picture when it is upright."""
        if self.turn in (Transpose.ROTATE_90, Transpose.ROTATE_270):
            return self.height, self.width
        return self.width, self.height

    def shrunk(self, times: int) -> Image.Image:
        """Return the picture upright, so many times smaller, a power of two.

        Raises:
            ValueError: the tiles do not make up the picture.
        """
        made = None
        for place, (number, hidden_at) in enumerate(
            zip(self.numbers, self.hidden_at, strict=True)
        ):
            file = BytesIO(self._with_main(number, hidden_at))
            with file, Image.open(file, formats=["HEIF"]) as tile:
                if made is None:
                    made, side = Image.new("RGB", self._room(tile, times)), tile.size
                if tile.size != side or tile.width % times or tile.height % times:
                    raise ValueError("the tiles are not of one size")
                small = tile.convert("RGB").reduce(times)
            row, column = divmod(place, self.columns)
            made.paste(small, (column * small.width, row * small.height))
        assert made is not None
        return made.transpose(self.turn) if self.turn is not None else made

    def _with_main(self, number: int, hidden_at: int) -> bytes:
        """Return the file with one of its tiles as the main picture, not hidden."""
        wide = self.main_at.stop - self.main_at.start
        shown = bytes([self.data[hidden_at] & 0xFE])
        patches = sorted(
            [(self.main_at.start, number.to_bytes(wide)), (hidden_at, shown)]
        )
        view, at = memoryview(self.data), 0
        pieces: list[memoryview | bytes] = []
        for start, patch in patches:
            pieces += [view[at:start], patch]
            at = start + len(patch)
        return b"".join([*pieces, view[at:]])

    def _room(self, tile: Image.Image, times: int) -> tuple[int, int]:
        """Return how large the whole is, of which the last tiles lap over the edge."""
        covered = (tile.width * self.columns, tile.height * self.rows)
        spare = (covered[0] - self.width, covered[1] - self.height)
        # Each row and column shows some of it: the work is bounded by the picture.
        if tile.width * tile.height > LARGEST_TILE or not (
            0 <= spare[0] < tile.width and 0 <= spare[1] < tile.height
        ):
            raise ValueError("the tiles do not make up the picture")
        return -(-self.width // times), -(-self.height // times)


def tiles_of(data: bytes) -> Tiles | None:
    """Return the tiles of a HEIC's main picture; None where it is another picture.

    Raises:
        ValueError, IndexError, KeyError, StopIteration: the file is broken.
    """
    meta = dict(_boxes(data, *dict(_boxes(data, 0, len(data)))[b"meta"], skip=4))
    start = meta[b"pitm"][0]
    wide = 4 if data[start] else 2
    main_at = slice(start + 4, start + 4 + wide)
    main = int.from_bytes(data[main_at])
    entries = _entries(data, *meta[b"iinf"])
    if entries[main][0] != b"grid" or b"iref" not in meta:
        return None
    properties = list(_properties(data, *meta[b"iprp"], main))
    if not {kind for kind, _value in properties} <= set(PLAIN):
        return None
    turns = [value & 3 for kind, value in properties if kind == b"irot"]
    numbers = _tile_numbers(data, *meta[b"iref"], main)
    grid = _content(data, meta, main)
    columns, rows = grid[3] + 1, grid[2] + 1
    if len(numbers) != columns * rows or len(numbers) > MOST_TILES or len(turns) > 1:
        raise ValueError("the tiles are not those of the picture")
    half = 4 if grid[1] & 1 else 2
    return Tiles(
        data=data,
        columns=columns,
        rows=rows,
        width=int.from_bytes(grid[4 : 4 + half]),
        height=int.from_bytes(grid[4 + half : 4 + 2 * half]),
        turn=TURNS[turns[0]] if turns else None,
        numbers=numbers,
        hidden_at=tuple(entries[number][1] for number in numbers),
        main_at=main_at,
    )


class _Cursor:
    """Reads numbers one after another."""

    def __init__(self, data: bytes, at: int, end: int) -> None:
        self.data, self.at, self.end = data, at, end

    def number(self, size: int) -> int:
        start, self.at = self.at, self.at + size
        if self.at > self.end:
            raise ValueError("a box ends too early")
        return int.from_bytes(self.data[start : self.at])


def _boxes(
    data: bytes, start: int, end: int, *, skip: int = 0
) -> Iterator[tuple[bytes, tuple[int, int]]]:
    """Yield what kind each box is, and where its inside begins and ends."""
    at = start + skip
    while at + 8 <= end:
        length, kind, head = int.from_bytes(data[at : at + 4]), data[at + 4 : at + 8], 8
        if length == 1:
            length, head = int.from_bytes(data[at + 8 : at + 16]), 16
        length = length or end - at
        if length < head or at + length > end:
            raise ValueError("a box is longer than what it stands in")
        yield kind, (at + head, at + length)
        at += length


def _entries(data: bytes, start: int, end: int) -> dict[int, tuple[bytes, int]]:
    """Return the kind of each item, and where its entry says whether it is hidden."""
    found = {}
    for _kind, (at, stop) in _boxes(
        data, start, end, skip=4 + (4 if data[start] else 2)
    ):
        wide = 4 if data[at] == 3 else 2
        entry = _Cursor(data, at + 4, stop)
        number = entry.number(wide)
        found[number] = (data[entry.at + 2 : entry.at + 6], at + 3)
    return found


def _properties(
    data: bytes, start: int, end: int, item: int
) -> Iterator[tuple[bytes, int]]:
    """Yield the kind and the first byte of each property of an item."""
    parts = list(_boxes(data, start, end))
    values = [
        (kind, data[inside[0]]) for kind, inside in _boxes(data, *dict(parts)[b"ipco"])
    ]
    for kind, (at, stop) in parts:
        if kind != b"ipma":
            continue
        wide, long = (4 if data[at] else 2), bool(data[at + 3] & 1)
        entry = _Cursor(data, at + 4, stop)
        for _item in range(entry.number(4)):
            number = entry.number(wide)
            for _property in range(entry.number(1)):
                place = entry.number(2) & 0x7FFF if long else entry.number(1) & 0x7F
                if number == item and place:
                    yield values[place - 1]


def _tile_numbers(data: bytes, start: int, end: int, item: int) -> tuple[int, ...]:
    wide = 4 if data[start] else 2
    for kind, (at, stop) in _boxes(data, start, end, skip=4):
        entry = _Cursor(data, at, stop)
        if kind == b"dimg" and entry.number(wide) == item:
            return tuple(entry.number(wide) for _tile in range(entry.number(2)))
    return ()


def _content(data: bytes, meta: Mapping[bytes, tuple[int, int]], item: int) -> bytes:
    """Return the bytes of an item that lies in one piece."""
    start, end = meta[b"iloc"]
    version = data[start]
    entry = _Cursor(data, start + 4, end)
    sizes = entry.number(2)
    of_offset, of_length, of_base = sizes >> 12, sizes >> 8 & 15, sizes >> 4 & 15
    of_index = sizes & 15 if version else 0
    wide = 4 if version == 2 else 2
    for _item in range(entry.number(wide)):
        number = entry.number(wide)
        method = entry.number(2) & 15 if version else 0
        entry.number(2)
        base = entry.number(of_base)
        pieces = []
        for _piece in range(entry.number(2)):
            entry.number(of_index)
            offset = base + entry.number(of_offset)
            pieces.append((offset, entry.number(of_length)))
        if number == item:
            ((offset, length),) = pieces
            offset += meta[b"idat"][0] if method == 1 else 0
            return data[offset : offset + length]
    raise ValueError("the picture's tiles are not described")

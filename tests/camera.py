"""Pictures as large and as fine as those of a phone's camera."""

from __future__ import annotations

from io import BytesIO

from PIL import Image

from tests.science.test_pictures import noise

WIDTH, HEIGHT = 4032, 3024


def photo(seed: int = 1) -> bytes:
    """Return the file of a scene of 12 million pixels, as a phone writes it."""
    light = Image.fromarray(noise(WIDTH, HEIGHT, seed))
    # The colours of a scene vary less than its light.
    coarse = [
        Image.fromarray(noise(WIDTH // 8, HEIGHT // 8, 100 * seed + each))
        for each in (1, 2)
    ]
    colours = [each.resize(light.size, Image.Resampling.BICUBIC) for each in coarse]
    out = BytesIO()
    Image.merge("YCbCr", (light, *colours)).save(out, "JPEG", quality=92)
    return out.getvalue()
